"""Reads an origin that is put on the list of regulated ones."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from particles.records.fields import PlainDayField, plain_text


class RegulatedAreaForm(forms.Form):
    """Reads one regulated area and its rule."""

    country = plain_text(what="the country", length=80)
    region = plain_text(what="the region", length=120, required=False, help_text="Empty: the whole country.")
    rule = plain_text(what="the rule", length=200, help_text="What is asked for, and by whom.")
    listed_on = PlainDayField(
        label="Listed on",
        help_text="The day from which the rule holds, such as 20 Nov 2026.",
        error_messages={"required": "Type the day from which the rule holds."},
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)

    def clean_listed_on(self) -> date:
        day: date = self.cleaned_data["listed_on"]
        if day > timezone.localdate():
            raise forms.ValidationError(
                f"{day:%-d %b %Y} has not come yet, and what is listed holds at once."
            )
        return day
