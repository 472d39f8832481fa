"""Reads a second reading."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from batches.entries.forms import ElapsedField, EntryForm, MomentField, NumberField, PlainForm, run_field
from batches.planning.models import Source
from batches.readers.rules import record_second
from particles.records.person import Person


class SecondReadingForm(PlainForm, EntryForm):
    """Another person's look at a slot, within seconds of the first."""

    run = run_field()
    slot_s = forms.IntegerField(min_value=1, label="Time of the schedule")
    reading = NumberField(max_digits=8, decimal_places=4, label="Second reading")
    elapsed_s = ElapsedField(label="Elapsed time")
    source = forms.ChoiceField(choices=Source.choices)
    counted_from = MomentField(required=False, label="Time zero")

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        record_second(**self.cleaned_data, entry=entry, by=by, at=at)
