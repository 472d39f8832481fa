"""Reads what is typed in the preparation room: preparation, pretreatment, a new portion."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms

from batches.corrections.rules import require_open_batch
from batches.entries.forms import EntryForm, NumberField, PlainForm
from particles.distribution.possible import PARTICLE_DENSITY_POSSIBLE_G_CM3
from particles.models import Portion, Sample
from particles.preparation.forms import PreparationForm, PretreatmentForm
from particles.preparation.rules import decide
from particles.records.person import Person

ASSUMED_DENSITY_G_CM3 = Decimal("2.650")


class PreparationEntryForm(PreparationForm, EntryForm):
    """The entry of a preparation or of its correction."""

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        typed, recorded = self.cleaned_data, self.recorded | {"entry_name": entry.entry_id}
        if typed["seen"] is None:
            typed["sample"].prepare(by=by, at=at, **recorded)
            return
        require_open_batch(typed["sample"], by=by)
        typed["seen"].correct(reason=typed["reason"], by=by, at=at, **recorded)


class PretreatmentEntryForm(PretreatmentForm, EntryForm):
    """The entry of a decision on pretreatment."""

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        typed = self.cleaned_data
        require_open_batch(typed["sample"], by=by)
        decide(
            typed["sample"],
            seen=typed["seen"],
            why_superseded=typed["why_superseded"],
            entry_name=entry.entry_id,
            by=by,
            at=at,
            **self.decision,
        )


class DensityForm(PlainForm):
    """The particle density of a portion: assumed, or measured and possible."""

    density = forms.ChoiceField(
        label="Particle density",
        choices=[("assumed", "assumed, 2.65 g/cm³"), ("measured", "measured, as typed below")],
        widget=forms.RadioSelect,
        initial="assumed",
    )
    particle_density_g_cm3 = NumberField(
        label="Measured particle density", unit="g/cm³", required=False, max_digits=5, decimal_places=3
    )

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        density = typed.get("particle_density_g_cm3")
        if typed.get("density") == "measured":
            if density is None and "particle_density_g_cm3" not in self.errors:
                self.add_error("particle_density_g_cm3", "Type the measured density.")
            elif density is not None and density not in PARTICLE_DENSITY_POSSIBLE_G_CM3:
                low, high = PARTICLE_DENSITY_POSSIBLE_G_CM3.ends
                self.add_error(
                    "particle_density_g_cm3", f"{density} g/cm³ lies outside {low} to {high}. Check the unit."
                )
        elif density is not None:
            self.add_error(
                "density", "A density is typed but not chosen. Choose “measured”, or empty the box."
            )
        return typed

    @property
    def chosen_density(self) -> dict[str, Any]:
        """Fields of a `Portion` or a `DensityCorrection` that keep the density."""
        measured = self.cleaned_data["density"] == "measured"
        return {
            "particle_density_measured": measured,
            "particle_density_g_cm3": self.cleaned_data["particle_density_g_cm3"]
            if measured
            else ASSUMED_DENSITY_G_CM3,
        }


class TakePortionForm(DensityForm, EntryForm):
    """Opens a portion of a sample; every portion after the first needs a reason."""

    sample = forms.ModelChoiceField(Sample.objects.all(), widget=forms.HiddenInput)
    reason = forms.CharField(label="Why another portion is weighed", required=False, max_length=300)

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        sample = typed.get("sample")
        if sample is not None and not typed.get("reason") and sample.portions.exists():
            self.add_error("reason", "Say why another portion is weighed.")
        return typed

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        sample = self.cleaned_data["sample"]
        reason = self.cleaned_data["reason"]
        Portion.take(sample, reason=reason, entry_name=entry.entry_id, by=by, at=at, **self.chosen_density)
