"""Reads how a batch is planned, filled and given a duplicate."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms

from batches.balance.models import Purpose
from batches.entries.forms import EntryForm, NumberField, PlainForm
from batches.equipment.models import Cylinder, DispersantLot, HydrometerRecord, Thermometer
from batches.planning.models import Batch, BatchState
from particles.distribution.possible import MIXING_POSSIBLE_MINUTES
from particles.models import Portion
from particles.records.person import Person
from particles.records.refusals import WrongState


class PlanBatchForm(PlainForm):
    """
    Portions of one method, and the row of cylinders the program proposes: the blank's, then one for each place.

    `more_due` says how many portions the program adds to so many: duplicates, and one of a reference soil. Which
    portion stands at which place is not asked: the program draws the places.
    """

    lot = forms.ModelChoiceField(DispersantLot.objects.none(), label="Dispersant lot", empty_label=None)
    hydrometer = forms.ModelChoiceField(HydrometerRecord.objects.none(), empty_label=None)
    thermometer = forms.ModelChoiceField(Thermometer.objects.none(), empty_label=None)

    def __init__(
        self,
        *args: Any,
        portions: Iterable[Portion],
        on: date,
        more_due: Callable[[int], int],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.portions = list(portions)
        self.more_due = more_due
        self.of_more = [f"cylinder_more_{n}" for n in range(1, more_due(len(self.portions)) + 1)]
        good = DispersantLot.objects.filter(made_on__lte=on, expires_on__gte=on)
        usable_lots = good.filter(pk__in=[lot.pk for lot in good if lot.is_plausible])
        self.fields["lot"].queryset = usable_lots  # type: ignore[attr-defined]
        self.fields["hydrometer"].queryset = HydrometerRecord.objects.usable(on)  # type: ignore[attr-defined]
        self.fields["thermometer"].queryset = Thermometer.objects.usable(on)  # type: ignore[attr-defined]
        free = list(Cylinder.objects.usable(on).free())
        self.free = {str(cylinder.pk): cylinder for cylinder in free}
        choices = [("", "none"), *((pk, cylinder.serial) for pk, cylinder in self.free.items())]
        proposed = [str(cylinder.pk) for cylinder in free]
        of_portions = [f"cylinder_portion_{p.pk}" for p in self.portions]
        for place, name in enumerate(["cylinder_blank", *of_portions, *self.of_more]):
            self.fields[name] = forms.ChoiceField(
                choices=choices,
                required=False,
                initial=proposed[place] if place < len(proposed) else "",
                error_messages={"invalid_choice": "This cylinder is no longer free. Choose another."},
            )
        for portion in self.portions:
            self.fields[f"take_{portion.pk}"] = forms.BooleanField(required=False)

    def rows(self) -> list[dict[str, Any]]:
        """Portions with their two boxes each, as the page shows them."""
        return [
            {
                "portion": p,
                "mass_g": [w.mass_g for w in p.weighings.all() if w.purpose == Purpose.PORTION][-1],
                "take": self[f"take_{p.pk}"],
                "cylinder": self[f"cylinder_portion_{p.pk}"],
            }
            for p in self.portions
        ]

    def duplicate_rows(self) -> list[dict[str, Any]]:
        """Boxes of the portions the program adds, each with how many portions it takes to be run at all."""
        counts = range(1, len(self.portions) + 1)
        return [
            {
                "number": number,
                "cylinder": self[name],
                "from_portions": next(n for n in counts if self.more_due(n) >= number),
            }
            for number, name in enumerate(self.of_more, start=1)
        ]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        chosen = [p for p in self.portions if typed.get(f"take_{p.pk}")]
        if not chosen:
            raise forms.ValidationError("Tick at least one portion.")
        names = [
            "cylinder_blank",
            *(f"cylinder_portion_{p.pk}" for p in chosen),
            *self.of_more[: self.more_due(len(chosen))],
        ]
        seen: set[str] = set()
        for name in names:
            pk = typed.get(name) or ""
            if not pk and name not in self.errors:
                self.add_error(name, "Choose a cylinder.")
            elif pk in seen:
                self.add_error(name, f"Cylinder {self.free[pk].serial} is chosen twice.")
            seen.add(pk)
        if not self.errors:
            typed["portions"] = chosen
            typed["cylinders"] = [self.free[typed[name]] for name in names]
        return typed

    def plan_arguments(self) -> dict[str, Any]:
        """Arguments of `rules.plan_batch` that were typed."""
        return {
            k: self.cleaned_data[k] for k in ("portions", "cylinders", "lot", "hydrometer", "thermometer")
        }


class AddDuplicateForm(PlainForm):
    """One more portion for a planned batch, a duplicate, with its cylinder and the reason."""

    cylinder = forms.ModelChoiceField(Cylinder.objects.none(), empty_label="choose a cylinder")
    reason = forms.CharField(
        label="Why one more portion", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cylinder"].queryset = Cylinder.objects.usable(on).free()  # type: ignore[attr-defined]
        self.fields["reason"].error_messages["required"] = "Say why."


class FillingFactsForm(PlainForm):
    """The facts that the filling of the cylinders leaves on record: time on the mixer, note on the soak."""

    batch = forms.ModelChoiceField(Batch.objects.select_related("method"), widget=forms.HiddenInput)
    mixing_minutes = NumberField(
        label="Time on the mixer", unit="min", min_value=0, max_digits=4, decimal_places=1
    )
    soak_note = forms.CharField(
        label="Why the soak was cut short",
        required=False,
        max_length=200,
        help_text="Only when it was shorter than the method asks. The certificate says so.",
    )

    def clean_mixing_minutes(self) -> Decimal:
        minutes: Decimal = self.cleaned_data["mixing_minutes"]
        if minutes not in MIXING_POSSIBLE_MINUTES:
            raise forms.ValidationError(
                f"{minutes} min on the mixer lies outside {MIXING_POSSIBLE_MINUTES}. Was it typed in seconds?"
            )
        return minutes


class FillingForm(FillingFactsForm, EntryForm):
    """The entry made when soaked soil was mixed, transferred and filled to the line."""

    to_the_line = forms.BooleanField(label="Filled to the line after the foam was gone, blank included")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        missing = "Tick this when every cylinder stands at the line without foam."
        self.fields["to_the_line"].error_messages["required"] = missing

    def store(self, entry: Any, *, by: Person, at: datetime) -> None:
        batch, typed = self.cleaned_data["batch"].lock(), self.cleaned_data
        if batch.state != BatchState.SOAKING:
            raise WrongState(f"{batch} is “{batch.state}”; the cylinders are filled after the soak.")
        batch.disperse(by=by, at=at, mixing_minutes=typed["mixing_minutes"], soak_note=typed["soak_note"])
