"""Reads what is typed in the preparation room: preparation, pretreatment, a new portion."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms

from batches.corrections.rules import require_open_batch
from batches.entries.forms import EntryForm, NumberField, PlainForm
from particles.distribution.errors import PycnometerError
from particles.distribution.possible import PARTICLE_DENSITY_POSSIBLE_G_CM3
from particles.models import Portion, Sample
from particles.portions.density import WEIGHED, pycnometer_of, why_not_believed
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
    """The particle density of a portion: assumed, or measured and possible, with the record of its measurement."""

    density = forms.ChoiceField(
        label="Particle density",
        choices=[("assumed", "assumed, 2.65 g/cm³"), ("measured", "measured, as typed below")],
        widget=forms.RadioSelect,
        initial="assumed",
    )
    particle_density_g_cm3 = NumberField(
        label="Measured particle density", unit="g/cm³", required=False, max_digits=5, decimal_places=3
    )
    density_document = forms.CharField(
        label="Document it comes from",
        required=False,
        max_length=200,
        help_text="Such as a certificate's number.",
    )
    pycnometer_soil_g = NumberField(
        label="Oven-dry soil", unit="g", required=False, max_digits=8, decimal_places=4
    )
    pycnometer_water_g = NumberField(
        label="Pycnometer with water", unit="g", required=False, max_digits=8, decimal_places=4
    )
    pycnometer_full_g = NumberField(
        label="Pycnometer with soil and water", unit="g", required=False, max_digits=8, decimal_places=4
    )
    pycnometer_water_c = NumberField(
        label="Temperature of the water", unit="°C", required=False, max_digits=4, decimal_places=1
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
                self._require_record(density, typed)
        elif density is not None:
            self.add_error(
                "density", "A density is typed but not chosen. Choose “measured”, or empty the box."
            )
        return typed

    def _require_record(self, density: Decimal, typed: dict[str, Any]) -> None:
        """All four figures of a pycnometer or none; together they must give the density."""
        absent = [name for name in WEIGHED if typed.get(name) is None]
        if 0 < len(absent) < len(WEIGHED):
            for name in absent:
                if name not in self.errors:
                    self.add_error(name, "Type all four figures of the pycnometer, or none.")
            return
        weighed, document = pycnometer_of(typed), typed.get("density_document", "")
        try:
            said = why_not_believed(density, measured=True, document=document, weighed=weighed)
        except PycnometerError as error:
            said = str(error)
        if said:
            self.add_error("particle_density_g_cm3", said)

    @property
    def chosen_density(self) -> dict[str, Any]:
        """Fields of a `ParticleDensity`."""
        if self.cleaned_data["density"] != "measured":
            return {"particle_density_measured": False, "particle_density_g_cm3": ASSUMED_DENSITY_G_CM3}
        recorded = {name: self.cleaned_data[name] for name in ("particle_density_g_cm3", *WEIGHED)}
        document = self.cleaned_data["density_document"] or None
        return {"particle_density_measured": True, "density_document": document} | recorded


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
