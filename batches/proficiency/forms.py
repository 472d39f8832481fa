"""Reads what is typed of a proficiency round: round, samples, the figures of its report, and answers to its scores."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from batches.entries.forms import NumberField, PlainForm
from batches.proficiency.models import FRACTIONS, RoundSample
from particles.models import Sample

POSSIBLE_PCT = (Decimal(-5), Decimal(105))
"""Participants report what they found, and clay may come out below nothing; farther off it is another number. [%]"""


class RoundForm(PlainForm):
    """A round: the provider's code and its closing day."""

    provider_code = forms.CharField(
        label="Code of the round", max_length=40, help_text="As the provider writes it."
    )
    closes_on = forms.DateField(
        label="Closing day",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is not a day. Write it like 2026-12-31."},
    )
    note = forms.CharField(label="Note", max_length=300, required=False)


class RoundSampleForm(PlainForm):
    """A sample of the laboratory and the provider's name of it."""

    lab_number = forms.CharField(label="Laboratory number", max_length=16)
    item = forms.CharField(label="The provider's name of it", max_length=40)

    def clean_lab_number(self) -> Sample:
        typed = self.cleaned_data["lab_number"].strip()
        sample = Sample.objects.filter(lab_number=typed).first()
        if sample is None:
            raise forms.ValidationError(
                f"No sample has the number {typed}. Receive it first, like any client's sample."
            )
        return sample

    def as_arguments(self) -> dict[str, Any]:
        """Arguments of `rules.add_sample` that were typed."""
        return {"sample": self.cleaned_data["lab_number"], "item": self.cleaned_data["item"]}


class NumbersField(forms.CharField):
    """Numbers with blanks, line breaks or semicolons between them."""

    widget = forms.Textarea(attrs={"rows": 3, "inputmode": "decimal"})

    def to_python(self, value: Any) -> Any:
        return [self._number(text) for text in str(value or "").replace(";", " ").split()]

    def _number(self, text: str) -> Decimal:
        if "," in text:
            raise forms.ValidationError(
                f"“{text}” has a comma. Write {text.replace(',', '.')} if that is meant."
            )
        try:
            number = Decimal(text)
        except InvalidOperation as error:
            raise forms.ValidationError(f"“{text}” is not a number. Write it like 24.8.") from error
        low, high = POSSIBLE_PCT
        if not number.is_finite() or not low <= number <= high:
            raise forms.ValidationError(f"“{text}” is no percentage: a value lies from {low} to {high}.")
        if number.as_tuple().exponent not in range(-4, 1):
            raise forms.ValidationError(f"“{text}” has more digits than are kept: 4 after the point.")
        return number


class AssignedValueForm(PlainForm):
    """One figure of the report: the assigned value, what it is held against, and the participants' values if given."""

    link = forms.ModelChoiceField(RoundSample.objects.none(), label="Sample", empty_label="choose a sample")
    fraction = forms.ChoiceField(choices=[(name, name) for name in FRACTIONS])
    value_pct = NumberField(
        label="Assigned value X", unit="%", min_value=0, max_value=100, max_digits=7, decimal_places=4
    )
    sigma_pt_pct = NumberField(
        label="Standard deviation σ of the round", unit="%", max_digits=7, decimal_places=4
    )
    uncertainty_pct = NumberField(
        label="Standard uncertainty u(X)",
        unit="%",
        required=False,
        min_value=0,
        max_digits=7,
        decimal_places=4,
        help_text="Half of an expanded one with k = 2. Empty when the report gives none.",
    )
    participants_pct = NumbersField(
        label="Participants' values",
        required=False,
        help_text="If the report lists them: a robust mean and spread are shown beside the provider's. Blanks between.",
    )
    reason = forms.CharField(
        label="What was wrong, when this corrects an earlier entry", required=False, max_length=300
    )

    def __init__(self, *args: Any, links: Iterable[RoundSample], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pks = [link.pk for link in links]
        self.fields["link"].queryset = RoundSample.objects.filter(pk__in=pks).select_related("round")  # type: ignore[attr-defined]

    def clean_sigma_pt_pct(self) -> Decimal:
        sigma: Decimal = self.cleaned_data["sigma_pt_pct"]
        if sigma <= 0:
            raise forms.ValidationError(
                f"{sigma} is not above 0: a score divides by it. Read the report again."
            )
        return sigma

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        typed["uncertainty_pct"] = typed.get("uncertainty_pct") or Decimal(0)
        return typed


class AnswerForm(PlainForm):
    """The answer to scores that are not satisfactory."""

    cause = forms.CharField(
        label="What was looked at, and what was found",
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    action = forms.CharField(
        label="What is done, by whom, until when", max_length=600, widget=forms.Textarea(attrs={"rows": 2})
    )
