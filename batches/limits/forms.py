"""Forms that read limits, answers to points, and what is said of a reference soil."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from batches.entries.forms import NumberField, PlainForm
from batches.limits.judging import Proposal
from batches.limits.keys import ChartKey, Kind
from particles.models import ReferenceSoil, Sample
from particles.reference_soils.models import SoilKind

WORDS = forms.Textarea(attrs={"rows": 2})


def _number(label: str, unit: str, **more: Any) -> NumberField:
    return NumberField(label=label, unit=unit, max_digits=9, decimal_places=4, **more)


class LimitsForm(PlainForm):
    """Limits of one chart; what the program proposes stands in the boxes."""

    in_force_from = forms.DateField(
        label="In force from",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Empty: from now on. What is past stays judged by the limits of its day.",
    )
    document = forms.CharField(
        label="Document",
        max_length=200,
        required=False,
        help_text="Only when the limits do not come from the points below: a certificate, an earlier record.",
    )
    reason = forms.CharField(label="Why these limits", max_length=300, widget=WORDS)
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, key: ChartKey, proposal: Proposal | str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit, pairs = key.quantity.unit, key.quantity.kind is Kind.DUPLICATES
        numbers: dict[str, forms.Field] = {}
        if not pairs:
            numbers["centre"] = _number("Centre", unit)
        numbers["sd"] = _number("Standard deviation of one " + ("run" if pairs else "point"), unit)
        if pairs:
            numbers["rise"] = _number(
                "Rise with content", unit, required=False,
                help_text="Part of the spread that follows √(X(100 − X)), at 50 %; empty for one spread everywhere.",
            )  # fmt: skip
        self.fields = {**numbers, **self.fields}
        if isinstance(proposal, Proposal):
            self.initial = {
                **self.initial,
                "centre": f"{proposal.centre:.3f}",
                "sd": f"{proposal.sd:.3f}",
                "rise": f"{proposal.rise:.3f}" if proposal.rise else "",
            }

    def arguments(self, at: datetime) -> dict[str, Any]:
        """Arguments of `rules.enter_limits` that were typed."""
        typed = self.cleaned_data
        numbers: dict[str, Any] = {name: typed[name] for name in ("centre", "sd") if name in typed}
        return {
            **numbers,
            "rise": typed.get("rise") or Decimal(0),
            "in_force_from": _moment(typed["in_force_from"], at),
            "document": typed["document"],
            "reason": typed["reason"],
            "seen": typed["seen"] or 0,
        }


def _moment(day: date | None, at: datetime) -> datetime:
    """The moment from which limits hold: now for today or no day, else the beginning of the day."""
    if day is None or day == timezone.localdate(at):
        return at
    return timezone.make_aware(datetime.combine(day, time()))


class AnswerForm(PlainForm):
    """An answer to a point that lies beyond its limits."""

    counts = forms.TypedChoiceField(
        label="For the limits to come, the point",
        choices=[
            ("no", "is left out: a cause was found"),
            ("yes", "counts: it was looked into, no cause found"),
        ],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(label="What was looked at, and found", max_length=300, widget=WORDS)


class TakeUpForm(PlainForm):
    """The reason for which an earlier version holds again."""

    reason = forms.CharField(label="Why its limits hold again", max_length=300, widget=WORDS)
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)


class ReferenceSoilForm(PlainForm):
    """A prepared bag of the laboratory's own that becomes a reference soil."""

    name = forms.CharField(max_length=60)
    kind = forms.ChoiceField(label="Texture", choices=SoilKind.choices, widget=forms.RadioSelect)
    sample = forms.CharField(
        label="Laboratory number of the bag",
        max_length=16,
        help_text="Logged for the laboratory itself in a job of its own, dried, sieved, pretreatment decided.",
    )
    container = forms.CharField(label="Where it is kept, and how much", max_length=120)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"].strip()
        if ReferenceSoil.objects.filter(name__iexact=name).exists():
            raise forms.ValidationError(f"There is a reference soil “{name}” already.")
        return name

    def clean_sample(self) -> Sample:
        number = self.cleaned_data["sample"].strip()
        sample = Sample.objects.filter(lab_number=number).first()
        if sample is None:
            raise forms.ValidationError(f"There is no sample {number}.")
        return sample
