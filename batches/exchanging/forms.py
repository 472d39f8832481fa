"""Reads what the QA officer exchanges, leaves out or puts right, and why."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.balance.models import Purpose
from batches.entries.forms import NumberField, PlainForm
from batches.planning.models import Batch, Run
from batches.templatetags.plain_figures import slot

EVERYTHING, FROM_ON, ALONE = "everything", "from on", "alone"


def _runs(batch: Batch) -> Any:
    return batch.runs.in_plan().select_related("cylinder", "portion__sample", "batch").order_by("position")


def _slots(batch: Batch) -> list[tuple[int, str]]:
    return [(int(s), slot(s)) for s in batch.method.edition.schedule_s]


class RunChoiceField(forms.ModelChoiceField):
    """A cylinder of the batch, by its serial and what stands in it."""

    def label_from_instance(self, run: Any) -> str:
        return f"{run.cylinder.serial}: {run.title}"


class WhyForm(PlainForm):
    """The reason of an act that puts something right or takes that back, and the version of the page."""

    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    reason = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))

    @property
    def version(self) -> str | None:
        """The version of the page; None when it carried none."""
        return self.cleaned_data.get("seen") or None


class ExchangeForm(WhyForm):
    """Two cylinders of a batch, and what of them is exchanged; `asked` is what the rule takes."""

    first = RunChoiceField(Run.objects.none(), label="What was recorded at", empty_label="choose a cylinder")
    second = RunChoiceField(Run.objects.none(), label="and at", empty_label="choose a cylinder")
    part = forms.ChoiceField(
        label="What is exchanged",
        choices=[
            (EVERYTHING, "Everything recorded at the cylinders"),
            (FROM_ON, "The readings from a time on"),
            (ALONE, "The reading at one time"),
        ],
        widget=forms.RadioSelect,
    )
    slot_s = forms.TypedChoiceField(label="Time", coerce=int, empty_value=None, required=False)
    with_sieve_masses = forms.BooleanField(
        label="Also what was washed out of them and sieved", required=False
    )
    field_order = ("first", "second", "part", "slot_s", "with_sieve_masses", "reason")

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        for name in ("first", "second"):
            fields[name].queryset = _runs(batch)
        fields["slot_s"].choices = [("", "no time"), *_slots(batch)]

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        if typed.get("part") in (FROM_ON, ALONE) and typed.get("slot_s") is None:
            self.add_error("slot_s", "Say which time.")
        return typed

    @property
    def asked(self) -> dict[str, Any]:
        """Arguments of `exchange`, without who and when."""
        typed = self.cleaned_data
        slot_s = None if typed["part"] == EVERYTHING else typed["slot_s"]
        return {
            "first": typed["first"],
            "second": typed["second"],
            "from_slot_s": slot_s,
            "until_slot_s": slot_s if typed["part"] == ALONE else None,
            "with_sieve_masses": typed["with_sieve_masses"],
            "reason": typed["reason"],
        }


class LeaveOutForm(WhyForm):
    """Readings of one cylinder that shall not count."""

    run = RunChoiceField(
        Run.objects.none(),
        label="Readings of",
        empty_label="choose a cylinder",
        help_text="Those of the blank are left out of every run.",
    )
    slots_s = forms.TypedMultipleChoiceField(
        label="at", coerce=int, widget=forms.CheckboxSelectMultiple, error_messages={"required": "Say which."}
    )
    field_order = ("run", "slots_s", "reason")

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["run"].queryset = _runs(batch)
        fields["slots_s"].choices = _slots(batch)


class MassForm(WhyForm):
    """The mass that counts in the place of a weighing of one run's portion."""

    run = RunChoiceField(Run.objects.none(), label="Portion in", empty_label="choose a cylinder")
    purpose = forms.ChoiceField(label="Weighing", choices=Purpose.choices)
    mass_g = NumberField(min_value=0, max_digits=9, decimal_places=4, label="Mass that counts", unit="g")
    field_order = ("run", "purpose", "mass_g", "reason", "seen")

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["run"].queryset = _runs(batch).filter(is_blank=False)

    @property
    def asked(self) -> dict[str, Any]:
        """Arguments of `put_mass_right`, without who and when."""
        typed = self.cleaned_data
        return {
            "portion": typed["run"].portion,
            "purpose": typed["purpose"],
            "mass_g": typed["mass_g"],
            "reason": typed["reason"],
        }
