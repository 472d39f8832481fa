"""Reads what is typed before the bench: preparation, pretreatment, portion, filling."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from batches.corrections import require_no_reviewer, require_open_batch
from batches.forms import EntryForm, NumberField, PlainForm
from batches.models import Batch, BatchState, DensityCorrection, FillingCorrection, TakenOut
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


class DensityForm(PlainForm):
    """The particle density of a portion: assumed, or measured and possible."""

    density = forms.ChoiceField(
        label="Particle density",
        choices=[("assumed", "assumed, 2.65 g/cm³"), ("measured", "measured, as typed below")],
        widget=forms.RadioSelect,
        initial="assumed",
    )
    particle_density_g_cm3 = NumberField(
        label="Measured particle density", required=False, max_digits=5, decimal_places=3
    )

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        density = typed.get("particle_density_g_cm3")
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

    @property
    def chosen_density(self) -> dict[str, Any]:
        """What a `Portion` and a `DensityCorrection` keep of it."""
        measured = self.cleaned_data["density"] == "measured"
        return {
            "particle_density_measured": measured,
            "particle_density_g_cm3": self.cleaned_data["particle_density_g_cm3"]
            if measured
            else ASSUMED_DENSITY_G_CM3,
        }


class TakePortionForm(DensityForm, EntryForm):
    """Opens a portion of a sample; another one says why."""

    sample = forms.ModelChoiceField(Sample.objects.all(), widget=forms.HiddenInput)
    reason = forms.CharField(label="Why another portion is weighed", required=False, max_length=300)

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        sample = typed.get("sample")
        if sample is not None and not typed.get("reason") and sample.portions.exists():
            self.add_error("reason", "Say why another portion is weighed.")
        return typed

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        sample = self.cleaned_data["sample"]
        reason = self.cleaned_data["reason"]
        Portion.take(sample, reason=reason, entry_name=entry.entry_id, by=by, at=at, **self.chosen_density)


class DensityCorrectionForm(DensityForm, EntryForm):
    """Another particle density takes the place of the one in force; what was wrong is said."""

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

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        typed = self.cleaned_data
        require_open_batch(typed["sample"], by=by)
        DensityCorrection.record(
            typed["portion"],
            seen=typed["seen"],
            reason=typed["reason"],
            entry=entry,
            by=by,
            at=at,
            **self.chosen_density,
        )


class CannotBeWeighedForm(PlainForm, EntryForm):
    """A duplicate leaves the plan of its batch: an empty bag, for instance."""

    portion = forms.ModelChoiceField(Portion.objects.all(), widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why it cannot be weighed", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        TakenOut.record(**self.cleaned_data, entry=entry, by=by, at=at)


class FillingFactsForm(PlainForm):
    """What the filling of the cylinders leaves on record."""

    batch = forms.ModelChoiceField(Batch.objects.select_related("method"), widget=forms.HiddenInput)
    mixing_minutes = NumberField(label="Time on the mixer", min_value=0, max_digits=4, decimal_places=1)
    soak_note = forms.CharField(
        label="Why the soak was cut short",
        required=False,
        max_length=200,
        help_text="Only when it was shorter than the method asks. The certificate says so.",
    )

    def clean_mixing_minutes(self) -> Decimal:
        minutes: Decimal = self.cleaned_data["mixing_minutes"]
        if not Decimal("0.5") <= minutes <= LONGEST_MIXING_MINUTES:
            raise forms.ValidationError(
                f"{minutes} min on the mixer lies outside 0.5 to {LONGEST_MIXING_MINUTES} min. Was it typed in seconds?"
            )
        return minutes


class FillingForm(FillingFactsForm, EntryForm):
    """Soaked soil is mixed, transferred and filled to the line."""

    to_the_line = forms.BooleanField(label="Filled to the line after the foam was gone, blank included")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        missing = "Tick this when every cylinder stands at the line without foam."
        self.fields["to_the_line"].error_messages["required"] = missing

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        batch, typed = self.cleaned_data["batch"].lock(), self.cleaned_data
        if batch.state != BatchState.SOAKING:
            raise WrongState(f"{batch} is “{batch.state}”; the cylinders are filled after the soak.")
        batch.disperse(by=by, at=at, mixing_minutes=typed["mixing_minutes"], soak_note=typed["soak_note"])


class FillingCorrectionForm(FillingFactsForm, EntryForm):
    """Another time on the mixer or note on the soak takes the place of the one in force."""

    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)
    reason = forms.CharField(label="What was wrong with the record", max_length=300)

    def store(self, entry: Any, *, by: Any, at: Any) -> None:
        require_no_reviewer(self.cleaned_data["batch"].lock(), by=by)
        FillingCorrection.record(**self.cleaned_data, entry=entry, by=by, at=at)
