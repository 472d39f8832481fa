"""Drying and sieving, and the decision on pretreatment."""

from __future__ import annotations

from typing import Any

from django import forms

from particles.distribution.possible import (
    CONDUCTIVITY_POSSIBLE_DS_M,
    DRYING_POSSIBLE_C,
    DRYING_POSSIBLE_H,
    ORGANIC_MATTER_POSSIBLE_PCT,
)
from particles.preparation.advice import CARBONATES, wish_on_carbonates
from particles.preparation.models import Preparation, PretreatmentDecision
from particles.receiving.models import Sample
from particles.records.fields import PlainDecimalField, plain_text

REMOVE_LEAVE = [("remove", "Remove"), ("leave", "Leave")]
REMOVALS = ("remove_organic_matter", "remove_carbonates", "remove_soluble_salts")
AGREED = "Agreed with the client."


def of_a_sample() -> Any:
    """A hidden field that names the sample."""
    return forms.ModelChoiceField(Sample.objects.select_related("job"), widget=forms.HiddenInput)


class PreparationForm(forms.Form):
    """The preparation of the whole bag; a correction also says what was wrong with the earlier record."""

    sample = of_a_sample()
    # The preparation in force when the page was made, if any: two corrections of one page cannot both be kept.
    seen = forms.ModelChoiceField(Preparation.objects.all(), required=False, widget=forms.HiddenInput)
    drying_temperature_c = PlainDecimalField(
        what="the drying temperature",
        label="Drying temperature",
        unit="°C",
        max_digits=5,
        decimal_places=1,
        help_text="Room or oven. Common practice: not above 40 °C.",
    ).bounds(*DRYING_POSSIBLE_C.ends)
    drying_hours = PlainDecimalField(
        what="the drying time", label="Drying time", unit="h", max_digits=6, decimal_places=1
    ).bounds(*DRYING_POSSIBLE_H.ends)
    crushing = forms.ChoiceField(
        choices=[(str(way), str(way)) for way in Preparation.Crushing],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was crushed."},
        help_text="A mill makes sand of gravel and concretions.",
    )
    fine_earth_g = PlainDecimalField(
        what="the mass finer than 2 mm", unit="g", max_digits=9, decimal_places=1, label="Finer than 2 mm"
    ).bounds("0.1", "99999999.9")
    gravel_g = PlainDecimalField(
        what="the mass coarser than 2 mm",
        unit="g",
        max_digits=9,
        decimal_places=1,
        label="Coarser than 2 mm",
        help_text="Weighed. Type 0 if there was none.",
    ).bounds("0", "99999999.9")
    reason = plain_text(
        what="what was wrong with the earlier record", length=300, required=False, label="Why it is corrected"
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)

    def clean(self) -> None:
        sample, seen = self.cleaned_data.get("sample"), self.cleaned_data.get("seen")
        if seen is None:
            return
        # A correction is judged by the batch of its own bag, so it must not reach another one's record.
        if sample is not None and seen.sample_id != sample.pk:
            self.add_error(
                None,
                f"The record to correct belongs to {seen.sample}, this page to {sample}. "
                "Open the page of the right bag and type it there.",
            )
        if not self.cleaned_data.get("reason"):
            self.add_error("reason", "Say what was wrong with the earlier record; both stay.")

    @property
    def recorded(self) -> dict[str, Any]:
        """The fields of a `Preparation` that were measured or seen."""
        return {k: v for k, v in self.cleaned_data.items() if k not in {"sample", "seen", "reason"}}


def _removal(what: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        choices=REMOVE_LEAVE,
        widget=forms.RadioSelect,
        label=what,
        error_messages={
            "required": f"Say whether {what.lower()} {'are' if what[-1] == 's' else 'is'} removed or left."
        },
    )


def _by_hand(part: str) -> PlainDecimalField:
    return PlainDecimalField(
        what=f"the {part} as it feels",
        unit="%",
        required=False,
        max_digits=4,
        decimal_places=1,
        label=f"{part.capitalize()} by feel",
        help_text="To 5 %. The review holds it against the figures.",
    ).bounds("0", "100")


class EvidenceForm(forms.Form):
    """The evidence for a pretreatment: whatever was seen and measured; each may be missing, and then it says so."""

    organic_matter_pct = PlainDecimalField(
        what="the organic matter",
        unit="%",
        required=False,
        max_digits=5,
        decimal_places=2,
        label="Organic matter",
    ).bounds(*ORGANIC_MATTER_POSSIBLE_PCT.ends)
    conductivity_ds_m = PlainDecimalField(
        what="the conductivity", unit="dS/m", required=False, max_digits=6, decimal_places=3, label="EC (1:5)"
    ).bounds(*CONDUCTIVITY_POSSIBLE_DS_M.ends)
    fizz = forms.ChoiceField(
        choices=list(PretreatmentDecision._meta.get_field("fizz").choices or []),
        initial="not tried",
        label="Fizz with acid",
        error_messages={"required": "Say how strong it fizzed.", "invalid_choice": "Choose one of the list."},
    )
    field_texture = plain_text(what="the texture by feel", length=40, required=False, label="Texture by feel")
    sand_by_hand_pct = _by_hand("sand")
    clay_by_hand_pct = _by_hand("clay")

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, use_required_attribute=False, **kwargs)

    def clean(self) -> None:
        sand, clay = self.cleaned_data.get("sand_by_hand_pct"), self.cleaned_data.get("clay_by_hand_pct")
        if sand is not None and clay is not None and sand + clay > 100:
            self.add_error("clay_by_hand_pct", f"{sand} % sand and {clay} % clay are more than 100 %.")


class PretreatmentForm(EvidenceForm):
    """A decision on pretreatment, with the evidence it rests on."""

    sample = of_a_sample()
    # The newest decision when the page was made: two answers to one page cannot both be kept.
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)
    remove_organic_matter = _removal("Organic matter")
    remove_carbonates = _removal("Carbonates")
    remove_soluble_salts = _removal("Soluble salts")
    reason = plain_text(what="why it is decided so", length=270, label="Reason")
    agreed = forms.BooleanField(
        required=False, label="Agreed with the client", help_text=f"“{AGREED}” is added to the reason."
    )

    why_superseded = plain_text(
        what="what was wrong with the earlier decision",
        length=300,
        required=False,
        label="What was wrong with the earlier decision",
    )

    @property
    def wish_on_carbonates(self) -> str | None:
        """The client's wish on carbonates, as its words say it."""
        sample = self.cleaned_data.get("sample")
        return None if sample is None else wish_on_carbonates(sample.job.pretreatment_wish)

    @property
    def against_the_wish(self) -> bool:
        """Whether carbonates are decided otherwise than the client wishes."""
        decided, wanted = self.cleaned_data.get("remove_carbonates"), self.wish_on_carbonates
        return bool(decided and wanted and decided != wanted)

    def clean(self) -> None:
        super().clean()
        if self.against_the_wish and not self.cleaned_data.get("agreed"):
            wanted = {"leave": "kept", "remove": "removed"}[str(self.wish_on_carbonates)]
            self.add_error(
                "agreed",
                f"The client's wish says {CARBONATES} {wanted}. Tick this once the client has agreed.",
            )

    @property
    def decision(self) -> dict[str, Any]:
        """The fields of a `PretreatmentDecision`."""
        cleaned = self.cleaned_data
        evidence = {name: cleaned[name] for name in EvidenceForm.base_fields}
        removals = {name: cleaned[name] == "remove" for name in REMOVALS}
        reason = f"{cleaned['reason']} {AGREED}" if cleaned["agreed"] else cleaned["reason"]
        return evidence | removals | {"reason": reason}
