"""Reads what is typed before the bench: preparation, pretreatment, portion, filling."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from batches.corrections import require_open_batch
from batches.forms import EntryForm, NumberField, PlainForm
from batches.models import Batch, BatchState, TakenOut
from particles.forms.preparation import PreparationForm, PretreatmentForm
from particles.models import Portion, Sample
from particles.pretreatment_decisions import decide
from particles.refusals import WrongState

LONGEST_MIXING_MINUTES = 60
ASSUMED_DENSITY_G_CM3 = Decimal("2.650")


class PreparationEntryForm(PreparationForm, EntryForm):
    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        typed, recorded = self.cleaned_data, self.recorded | {"entry_name": entry.entry_id}
        if typed["seen"] is None:
            typed["sample"].prepare(by=by, at=at, **recorded)
            return
        require_open_batch(typed["sample"], by=by)
        typed["seen"].correct(reason=typed["reason"], by=by, at=at, **recorded)


class PretreatmentEntryForm(PretreatmentForm, EntryForm):
    def store(self, entry: Any, *, by: Any, at: Any) -> None:
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


class TakePortionForm(PlainForm, EntryForm):
    """Opens a portion of a sample; another one says why."""

    sample = forms.ModelChoiceField(Sample.objects.all(), widget=forms.HiddenInput)
    density = forms.ChoiceField(
        label="Particle density",
        choices=[("assumed", "assumed, 2.65 g/cm³"), ("measured", "measured, as typed below")],
        widget=forms.RadioSelect,
        initial="assumed",
    )
    particle_density_g_cm3 = NumberField(
        label="Measured particle density", required=False, max_digits=5, decimal_places=3
    )
    reason = forms.CharField(label="Why another portion is weighed", required=False, max_length=300)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        sample, density = typed.get("sample"), typed.get("particle_density_g_cm3")
        if sample is not None and not typed.get("reason") and sample.portions.exists():
            self.add_error("reason", "Say why another portion is weighed.")
        if typed.get("density") == "measured":
            if density is None and "particle_density_g_cm3" not in self.errors:
                self.add_error("particle_density_g_cm3", "Type the measured density.")
            elif density is not None and not Decimal("1.5") <= density <= 5:
                self.add_error(
                    "particle_density_g_cm3", f"{density} g/cm³ lies outside 1.5 to 5. Check the unit."
                )
        elif density is not None:
            self.add_error(
                "density", "A density is typed but not chosen. Choose “measured”, or empty the box."
            )
        return typed

    def as_fields(self) -> dict[str, Any]:
        """What Portion.take keeps."""
        measured = self.cleaned_data["density"] == "measured"
        return {
            "reason": self.cleaned_data.get("reason", ""),
            "particle_density_measured": measured,
            "particle_density_g_cm3": self.cleaned_data["particle_density_g_cm3"]
            if measured
            else ASSUMED_DENSITY_G_CM3,
        }

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        sample = self.cleaned_data["sample"]
        Portion.take(sample, entry_name=entry.entry_id, by=by, at=at, **self.as_fields())


class CannotBeWeighedForm(PlainForm, EntryForm):
    """A duplicate leaves the plan of its batch: an empty bag, for instance."""

    portion = forms.ModelChoiceField(Portion.objects.all(), widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why it cannot be weighed", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        TakenOut.record(**self.cleaned_data, entry=entry, by=by, at=at)


class FillingForm(PlainForm, EntryForm):
    """Soaked soil is mixed, transferred and filled to the line."""

    batch = forms.ModelChoiceField(Batch.objects.select_related("method"), widget=forms.HiddenInput)
    mixing_minutes = NumberField(label="Time on the mixer", min_value=0, max_digits=4, decimal_places=1)
    soak_note = forms.CharField(
        label="Why the soak was cut short",
        required=False,
        max_length=200,
        help_text="Only when it was shorter than the method asks. The certificate says so.",
    )
    to_the_line = forms.BooleanField(label="Filled to the line after the foam was gone, blank included")

    def clean_mixing_minutes(self) -> Decimal:
        minutes: Decimal = self.cleaned_data["mixing_minutes"]
        if not Decimal("0.5") <= minutes <= LONGEST_MIXING_MINUTES:
            raise forms.ValidationError(
                f"{minutes} min on the mixer lies outside 0.5 to {LONGEST_MIXING_MINUTES} min. Was it typed in seconds?"
            )
        return minutes

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        missing = "Tick this when every cylinder stands at the line without foam."
        self.fields["to_the_line"].error_messages["required"] = missing

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        batch, typed = self.cleaned_data["batch"].lock(), self.cleaned_data
        if batch.state != BatchState.SOAKING:
            raise WrongState(f"{batch} is “{batch.state}”; the cylinders are filled after the soak.")
        batch.disperse(by=by, at=at, mixing_minutes=typed["mixing_minutes"], soak_note=typed["soak_note"])
