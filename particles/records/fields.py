"""Fields that read what was typed and nothing else: no comma, no guess at a day."""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
_DAY_FORMATS = ("%Y-%m-%d", "%d %b %Y", "%d %B %Y")


class PlainDecimalField(forms.DecimalField):
    """A number with a decimal point. A comma is refused, because 12,5 may be 12.5 or 125."""

    widget = forms.TextInput

    def __init__(self, *, what: str, unit: str, **kwargs: Any) -> None:
        self.what, self.unit = what, unit
        messages = {"required": f"Type {what} in {unit}; type 0 only if it was 0."}
        super().__init__(error_messages=messages | kwargs.pop("error_messages", {}), **kwargs)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        text = str(value).strip() if value is not None else ""
        if not text:
            return None
        if "," in text:
            raise ValidationError(
                f"“{text}” has a comma. Type {self.what} with a decimal point, in {self.unit}."
            )
        if not _PLAIN_NUMBER.fullmatch(text):
            raise ValidationError(
                f"“{text}” is not a plain number. Type {self.what} in {self.unit}, digits only."
            )
        decimals = len(text.partition(".")[2])
        if self.decimal_places is not None and decimals > self.decimal_places:
            raise ValidationError(f"“{text}” has {decimals} decimals; {self.decimal_places} can be kept.")
        return Decimal(text)

    def bounds(self, low: str, high: str) -> PlainDecimalField:
        """Refuse values outside low to high, both included, naming the value."""

        def within(value: Decimal) -> None:
            if not Decimal(low) <= value <= Decimal(high):
                raise ValidationError(
                    f"{value} {self.unit} cannot be {self.what}: {low} to {high} {self.unit} is possible."
                )

        self.validators.insert(0, within)
        return self


class PlainDayField(forms.DateField):
    """A day as 2026-11-20 or 20 Nov 2026; 03/04/2026 could be two days and is refused."""

    widget = forms.TextInput

    def to_python(self, value: Any) -> date | None:
        text = str(value).strip() if value is not None else ""
        if not text:
            return None
        for layout in _DAY_FORMATS:
            try:
                return datetime.strptime(text, layout).date()  # noqa: DTZ007 - only its day is taken
            except ValueError:
                continue
        raise ValidationError(
            f"“{text}” could be read as more than one day, or none. Type 2026-11-20 or 20 Nov 2026."
        )


def plain_text(*, what: str, length: int, required: bool = True, **kwargs: Any) -> forms.CharField:
    """One line of text with sentences of our own."""
    return forms.CharField(
        max_length=length,
        required=required,
        error_messages={
            "required": f"Type {what}.",
            "max_length": f"At most {length} characters can be kept here; shorten it.",
        },
        **kwargs,
    )
