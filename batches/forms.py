"""Reads what was typed at the bench. A form only says whether it can be read; the rules are elsewhere."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from batches.models import (
    Balance,
    Observation,
    Purpose,
    Reading,
    Replunge,
    Run,
    RunVoid,
    SieveMass,
    Source,
    TimeDoubt,
    Weighing,
)
from particles.distribution import ReadingState
from particles.models import Portion


class PlainForm(forms.Form):
    """A form whose complaints are sentences a person at the bench can act on."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            choosing = isinstance(field, forms.ChoiceField)
            field.error_messages["required"] = "Choose one." if choosing else "Nothing was typed here."
            if choosing:
                field.error_messages["invalid_choice"] = "This choice cannot be taken now. Choose another."


class NumberField(forms.DecimalField):
    """A number with a decimal point, kept to the digit as typed."""

    # A number box of the browser drops a decimal comma without a word: 50,02 would arrive as 5002.
    widget = forms.TextInput

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "inputmode": "decimal", "autocomplete": "off"}

    def to_python(self, value: Any) -> Any:
        text = str(value or "").strip() if not isinstance(value, Decimal) else str(value)
        if "," in text:
            meant = text.replace(",", ".")
            raise forms.ValidationError(f"“{text}” has a comma. Write {meant} if that is what was read.")
        try:
            return super().to_python(value)
        except forms.ValidationError as error:
            raise forms.ValidationError(f"“{text}” is not a number. Write it like 31.5.") from error

    def run_validators(self, value: Any) -> None:
        try:
            super().run_validators(value)
        except forms.ValidationError as error:
            if any(found.code == "min_value" for found in error.error_list):
                raise forms.ValidationError(
                    f"{value} is below {self.min_value}. Weigh and type it again."
                ) from error
            before = (self.max_digits or 0) - (self.decimal_places or 0)
            raise forms.ValidationError(
                f"{value} has more digits than can be kept: {before} before the point, {self.decimal_places} after it."
            ) from error


class ElapsedField(forms.Field):
    """Elapsed time as seconds, minutes:seconds or hours:minutes:seconds."""

    def to_python(self, value: Any) -> Decimal | None:
        text = str(value or "").strip()
        if not text:
            return None
        parts = text.split(":")
        if len(parts) > 3 or not all(re.fullmatch(r"[0-9]{1,7}(\.[0-9]+)?", part) for part in parts):
            raise forms.ValidationError(f"“{text}” is not a time. Write 45, 1:30 or 24:00:00.")
        seconds = Decimal(0)
        for part in parts:
            seconds = seconds * 60 + Decimal(part)
        if seconds <= 0:
            raise forms.ValidationError("A reading is taken after the start: the elapsed time is above 0 s.")
        if seconds != round(seconds, 1):
            raise forms.ValidationError(
                f"{seconds} s is finer than is kept. Write it to a tenth of a second."
            )
        return seconds


class EntryForm(forms.Form):
    """One kind of entry: whether it can be read, and what is stored of it."""

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        raise NotImplementedError


def run_field() -> forms.ModelChoiceField:
    return forms.ModelChoiceField(Run.objects.select_related("batch", "cylinder"), label="Cylinder")


class StartForm(PlainForm, EntryForm):
    run = run_field()
    started_at = forms.DateTimeField(
        label="Start",
        input_formats=["%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M",
                       "%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": "This is not a date and time. Write it like 2026-03-14 09:05:30."},
    )  # fmt: skip
    source = forms.ChoiceField(choices=Source.choices)

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        typed = self.cleaned_data
        typed["run"].start(started_at=typed["started_at"], source=typed["source"], entry=entry, by=by, at=at)


class MomentField(forms.DateTimeField):
    """A moment as a tablet writes it."""

    def __init__(self, **kwargs: Any) -> None:
        wrong = {"invalid": "This is not a date and time. Reload the bench and take it again."}
        super().__init__(
            input_formats=["%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M:%S%z"], error_messages=wrong, **kwargs
        )


class ReplungeForm(PlainForm, EntryForm):
    run = run_field()
    started_at = MomentField(label="Stirred again")
    voids = forms.IntegerField(min_value=0, label="Readings that become void")
    source = forms.ChoiceField(choices=Source.choices)
    reason = forms.CharField(max_length=300, label="Why it was stirred again")

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        Replunge.record(**self.cleaned_data, entry=entry, by=by, at=at)


class ObservationForm(PlainForm, EntryForm):
    run = run_field()
    what = forms.ChoiceField(choices=Observation.SIGHTS, label="What was seen")
    slot_s = forms.IntegerField(required=False, min_value=1, label="Reading")
    note = forms.CharField(required=False, max_length=300)
    seen_at = MomentField(label="When")
    takes_back = forms.UUIDField(
        required=False,
        label="Observation",
        error_messages={"invalid": "This names no observation. Reload the bench and take it back again."},
    )

    def clean_takes_back(self) -> Observation | None:
        name = self.cleaned_data["takes_back"]
        if name is None:
            return None
        found = Observation.objects.filter(entry__entry_id=name).first()
        if found is None:
            raise forms.ValidationError("The observation to be taken back is not kept by the laboratory.")
        return found

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if typed.get("takes_back") and not typed.get("note"):
            self.add_error("note", "Say why it is taken back.")
        return typed

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        Observation.record(**self.cleaned_data, entry=entry, by=by, at=at)


class VoidForm(PlainForm, EntryForm):
    run = run_field()
    why = forms.ChoiceField(choices=RunVoid.Why.choices, label="Why it is void")
    note = forms.CharField(required=False, max_length=300)
    voided_at = MomentField(label="When")

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        RunVoid.record(**self.cleaned_data, entry=entry, by=by, at=at)


class ReadingForm(PlainForm, EntryForm):
    run = run_field()
    slot_s = forms.IntegerField(min_value=1, label="Time of the schedule")
    state = forms.ChoiceField(choices=Reading.STATES, label="What happened")
    reading = NumberField(required=False, max_digits=8, decimal_places=4)
    elapsed_s = ElapsedField(required=False, label="Elapsed time")
    temperature_c = NumberField(required=False, max_digits=4, decimal_places=1, label="Temperature")
    source = forms.ChoiceField(choices=Source.choices)
    reason = forms.CharField(required=False, max_length=300)
    counted_from = MomentField(required=False, label="Time zero")
    time_doubt = forms.ChoiceField(
        required=False, choices=[("", ""), *TimeDoubt.choices], label="What happened to the clock"
    )
    time_doubt_s = NumberField(
        required=False, max_digits=10, decimal_places=1, label="How far the clock was off"
    )

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        state = typed.get("state")
        typed["time_doubt"] = typed.get("time_doubt") or None
        if typed["time_doubt"] is None and typed.get("time_doubt_s") is not None:
            self.add_error("time_doubt", "A doubtful time says what happened to the clock.")
        if state == ReadingState.MISSED:
            typed |= dict.fromkeys(("reading", "elapsed_s", "temperature_c", "time_doubt", "time_doubt_s"))
            if not typed.get("reason"):
                self.add_error("reason", "Say why the reading was missed.")
            return typed
        for name, what in (("elapsed_s", "the elapsed time"), ("temperature_c", "the temperature")):
            if typed.get(name) is None and name not in self.errors:
                self.add_error(name, f"Type {what}.")
        if state == ReadingState.READ and typed.get("reading") is None and "reading" not in self.errors:
            self.add_error("reading", "Type the reading, or say that it was missed or above the scale.")
        if state == ReadingState.ABOVE_SCALE:
            typed["reading"] = None
        return typed

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        Reading.record(**self.cleaned_data, entry=entry, by=by, at=at)


def mass_field(label: str, *, required: bool = False) -> NumberField:
    return NumberField(required=required, min_value=0, max_digits=9, decimal_places=4, label=label)


class WeighingForm(PlainForm, EntryForm):
    """Any of a portion's weighings but those of a sieving, on one balance."""

    PURPOSES: ClassVar[tuple[Purpose, ...]] = tuple(
        p for p in Purpose if p not in (Purpose.WASHED_SAND, Purpose.PAN)
    )

    portion = forms.ModelChoiceField(Portion.objects.all())
    balance = forms.ModelChoiceField(Balance.objects.all(), empty_label="choose a balance")
    reason = forms.CharField(required=False, max_length=300, label="Why it is weighed again")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["balance"].queryset = Balance.objects.usable(timezone.localdate())  # type: ignore[attr-defined]
        for purpose in self.PURPOSES:
            self.fields[self.field_name(purpose)] = mass_field(str(purpose.label).capitalize())

    @staticmethod
    def field_name(purpose: Purpose) -> str:
        return f"{purpose.name.lower()}_g"

    def typed_masses_g(self) -> dict[Purpose, Decimal]:
        typed = {p: self.cleaned_data.get(self.field_name(p)) for p in self.PURPOSES}
        return {p: mass for p, mass in typed.items() if mass is not None}

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if not self.errors and not any(typed.get(self.field_name(p)) is not None for p in self.PURPOSES):
            raise forms.ValidationError("Type at least one mass.")
        return typed

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        shared = {k: self.cleaned_data[k] for k in ("balance", "reason")}
        Weighing.record(
            self.cleaned_data["portion"], self.typed_masses_g(), entry=entry, by=by, at=at, **shared
        )


class SieveForm(WeighingForm):
    """What stayed on each sieve, beside the washed sand and the pan."""

    PURPOSES: ClassVar[tuple[Purpose, ...]] = (Purpose.WASHED_SAND, Purpose.PAN)
    OPENINGS_UM = (1000, 500, 250, 100, 53)
    """Sieves of the USDA sand fractions, with the 53 µm sieve at the sand limit."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for opening_um in self.OPENINGS_UM:
            self.fields[self.sieve_name(opening_um)] = mass_field(f"{opening_um} µm", required=True)
        for purpose in self.PURPOSES:
            self.fields[self.field_name(purpose)].required = True
        for field in self.fields.values():
            if isinstance(field, NumberField):
                field.error_messages["required"] = "Nothing was typed here. Type 0 if nothing stayed."

    @staticmethod
    def sieve_name(opening_um: int) -> str:
        return f"sieve_{opening_um}_g"

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        super().store(entry, by=by, at=at)
        typed = self.cleaned_data
        retained_g = {opening: typed[self.sieve_name(opening)] for opening in self.OPENINGS_UM}
        shared = {name: typed[name] for name in ("portion", "balance", "reason")}
        SieveMass.record_stack(retained_g, entry=entry, by=by, at=at, **shared)
