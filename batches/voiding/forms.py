"""Reads what makes a run void, and what takes a duplicate out of its batch."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from batches.entries.forms import EntryForm, MomentField, PlainForm, run_field
from batches.voiding.models import RunVoid
from batches.voiding.rules import make_void, take_out
from particles.models import Portion
from particles.records.person import Person


class VoidForm(PlainForm, EntryForm):
    """The entry that makes a run void."""

    run = run_field()
    why = forms.ChoiceField(choices=RunVoid.Why.choices, label="Why it is void")
    note = forms.CharField(required=False, max_length=300)
    voided_at = MomentField(label="When")

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        make_void(**self.cleaned_data, entry=entry, by=by, at=at)


class CannotBeWeighedForm(PlainForm, EntryForm):
    """A duplicate leaves the plan of its batch: an empty bag, for instance."""

    portion = forms.ModelChoiceField(Portion.objects.all(), widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why it cannot be weighed", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        take_out(**self.cleaned_data, entry=entry, by=by, at=at)
