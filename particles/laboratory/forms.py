"""Reads what certificates print of the laboratory."""

from __future__ import annotations

from typing import Any

from django import forms

from particles.distribution.possible import MOST_PORTIONS
from particles.records.fields import plain_text


class LaboratoryForm(forms.Form):
    """Reads what certificates print of the laboratory, and its rate of duplicates."""

    name = plain_text(what="the name of the laboratory", length=200)
    address = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="As printed on certificates.",
        error_messages={"required": "Type the address; certificates print it."},
    )
    contact = plain_text(what="the contact", length=200, help_text="Name, telephone or mail.")
    samples_per_duplicate = forms.IntegerField(
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        label="Samples that share one duplicate",
        help_text="One duplicate for so many samples of a batch, begun. Empty: the usual 10. 0: no duplicates.",
        error_messages={"invalid": "Type a whole number."},
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)

    def clean_samples_per_duplicate(self) -> int | None:
        rate: int | None = self.cleaned_data["samples_per_duplicate"]
        if rate is not None and not 0 <= rate <= MOST_PORTIONS:
            raise forms.ValidationError(f"{rate} lies outside 0 to {MOST_PORTIONS}.")
        return rate
