"""Reads starts, readings, second stirrings and observations."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from batches.bench.blank import record_blank_reading
from batches.bench.models import BlankReading, Observation, Reading, TimeDoubt
from batches.bench.rules import record_observation, record_start, record_stirring
from batches.entries.forms import ElapsedField, EntryForm, MomentField, NumberField, PlainForm, run_field
from batches.planning.models import Source
from batches.readers.rules import record_first_or_second
from particles.distribution import ReadingState
from particles.records.person import Person


class StartForm(PlainForm, EntryForm):
    """The start of a cylinder."""

    run = run_field()
    started_at = forms.DateTimeField(
        label="Start",
        input_formats=["%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M",
                       "%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": "This is not a date and time. Write it like 2026-03-14 09:05:30."},
    )  # fmt: skip
    source = forms.ChoiceField(choices=Source.choices)

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        typed = self.cleaned_data
        record_start(
            typed["run"], started_at=typed["started_at"], source=typed["source"], entry=entry, by=by, at=at
        )


class ReplungeForm(PlainForm, EntryForm):
    """A second stirring of a cylinder, with the number of readings it makes void."""

    run = run_field()
    started_at = MomentField(label="Stirred again")
    voids = forms.IntegerField(min_value=0, label="Readings that become void")
    source = forms.ChoiceField(choices=Source.choices)
    reason = forms.CharField(max_length=300, label="Why it was stirred again")

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        record_stirring(**self.cleaned_data, entry=entry, by=by, at=at)


class ObservationForm(PlainForm, EntryForm):
    """An observation at a cylinder, or the taking back of an earlier one."""

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

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        record_observation(**self.cleaned_data, entry=entry, by=by, at=at)


class ReadingForm(PlainForm, EntryForm):
    """One slot of the schedule: a reading, or why there is none."""

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

    def store(self, entry: Any, *, by: Person, at: datetime) -> str | None:
        said, self.may_complete = record_first_or_second(**self.cleaned_data, entry=entry, by=by, at=at)
        return said


class BlankReadingForm(PlainForm, EntryForm):
    """One more reading of the blank, or the taking back of an earlier one."""

    run = run_field()
    reading = NumberField(required=False, max_digits=8, decimal_places=4)
    temperature_c = NumberField(required=False, max_digits=4, decimal_places=1, label="Temperature")
    taken_at = MomentField(label="When")
    source = forms.ChoiceField(choices=Source.choices)
    note = forms.CharField(required=False, max_length=300)
    takes_back = forms.UUIDField(
        required=False,
        label="Reading of the blank",
        error_messages={"invalid": "This names no reading. Reload the bench and take it back again."},
    )

    def clean_takes_back(self) -> BlankReading | None:
        name = self.cleaned_data["takes_back"]
        if name is None:
            return None
        found = BlankReading.objects.filter(entry__entry_id=name).first()
        if found is None:
            raise forms.ValidationError("The reading to be taken back is not kept by the laboratory.")
        return found

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if typed.get("takes_back"):
            typed |= dict.fromkeys(("reading", "temperature_c"))
            if not typed.get("note"):
                self.add_error("note", "Say why it is taken back.")
            return typed
        for name, what in (("reading", "the reading"), ("temperature_c", "the temperature")):
            if typed.get(name) is None and name not in self.errors:
                self.add_error(name, f"Type {what}.")
        return typed

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        self.may_complete = record_blank_reading(**self.cleaned_data, entry=entry, by=by, at=at)
