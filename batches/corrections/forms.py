"""Reads a corrected particle density and a corrected filling."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from batches.corrections.rules import (
    correct_density,
    correct_filling,
    require_no_reviewer,
    require_open_batch,
)
from batches.entries.forms import EntryForm
from batches.planning.forms import FillingFactsForm
from batches.room.forms import DensityForm
from particles.models import Portion, Sample
from particles.records.person import Person


class DensityCorrectionForm(DensityForm, EntryForm):
    """A corrected particle density in the place of the one in force, with what was wrong."""

    sample = forms.ModelChoiceField(Sample.objects.all(), widget=forms.HiddenInput)
    portion = forms.ModelChoiceField(Portion.objects.all(), widget=forms.HiddenInput)
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)
    reason = forms.CharField(label="What was wrong with the density on record", max_length=300)

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        sample, portion = typed.get("sample"), typed.get("portion")
        if sample is not None and portion is not None and portion.sample_id != sample.pk:
            self.add_error(
                None, f"{portion} is not of {sample}. Open the page of the right bag and type it there."
            )
        return typed

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        typed = self.cleaned_data
        require_open_batch(typed["sample"], by=by)
        correct_density(
            typed["portion"],
            seen=typed["seen"],
            reason=typed["reason"],
            entry=entry,
            by=by,
            at=at,
            **self.chosen_density,
        )


class FillingCorrectionForm(FillingFactsForm, EntryForm):
    """A corrected time on the mixer or note on the soak in the place of the one in force."""

    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)
    reason = forms.CharField(label="What was wrong with the record", max_length=300)

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        require_no_reviewer(self.cleaned_data["batch"].lock(), by=by)
        correct_filling(**self.cleaned_data, entry=entry, by=by, at=at)
