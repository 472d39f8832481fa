"""Forms of pages whose values are not bench entries: planning, decisions, equipment."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.db import models
from django.utils import timezone

from batches.forms import NumberField, PlainForm
from batches.models import (
    Balance,
    Cylinder,
    DispersantLot,
    HydrometerRecord,
    Purpose,
    RunDecision,
    Thermometer,
)
from particles.models import Portion


class PlanBatchForm(PlainForm):
    """
    Portions of one method, each with the cylinder the program proposes; the blank comes first, then the duplicates.

    `duplicates_due` says how many duplicates so many portions need.
    """

    lot = forms.ModelChoiceField(DispersantLot.objects.none(), label="Dispersant lot", empty_label=None)
    hydrometer = forms.ModelChoiceField(HydrometerRecord.objects.none(), empty_label=None)
    thermometer = forms.ModelChoiceField(Thermometer.objects.none(), empty_label=None)

    def __init__(
        self,
        *args: Any,
        portions: Iterable[Portion],
        on: date,
        duplicates_due: Callable[[int], int],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.portions = list(portions)
        self.duplicates_due = duplicates_due
        self.of_duplicates = [
            f"cylinder_duplicate_{n}" for n in range(1, duplicates_due(len(self.portions)) + 1)
        ]
        usable_lots = DispersantLot.objects.filter(made_on__lte=on, expires_on__gte=on)
        self.fields["lot"].queryset = usable_lots  # type: ignore[attr-defined]
        self.fields["hydrometer"].queryset = HydrometerRecord.objects.usable(on)  # type: ignore[attr-defined]
        self.fields["thermometer"].queryset = Thermometer.objects.usable(on)  # type: ignore[attr-defined]
        free = list(Cylinder.objects.usable(on).free())
        self.free = {str(cylinder.pk): cylinder for cylinder in free}
        choices = [("", "none"), *((pk, cylinder.serial) for pk, cylinder in self.free.items())]
        proposed = [str(cylinder.pk) for cylinder in free]
        of_portions = [f"cylinder_portion_{p.pk}" for p in self.portions]
        for place, name in enumerate(["cylinder_blank", *self.of_duplicates, *of_portions]):
            self.fields[name] = forms.ChoiceField(
                choices=choices,
                required=False,
                initial=proposed[place] if place < len(proposed) else "",
                error_messages={"invalid_choice": "This cylinder is no longer free. Choose another."},
            )
        for portion in self.portions:
            self.fields[f"take_{portion.pk}"] = forms.BooleanField(required=False)

    def rows(self) -> list[dict[str, Any]]:
        """For the page: each portion with its two boxes."""
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
        """For the page: each duplicate's box, and the number of portions it needs to be run at all."""
        counts = range(1, len(self.portions) + 1)
        return [
            {
                "number": number,
                "cylinder": self[name],
                "from_portions": next(n for n in counts if self.duplicates_due(n) >= number),
            }
            for number, name in enumerate(self.of_duplicates, start=1)
        ]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        chosen = [p for p in self.portions if typed.get(f"take_{p.pk}")]
        if not chosen:
            raise forms.ValidationError("Tick at least one portion.")
        names = [
            "cylinder_blank",
            *(f"cylinder_portion_{p.pk}" for p in chosen),
            *self.of_duplicates[: self.duplicates_due(len(chosen))],
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

    def as_fields(self) -> dict[str, Any]:
        """What `duplicates.plan_batch` takes."""
        return {
            k: self.cleaned_data[k] for k in ("portions", "cylinders", "lot", "hydrometer", "thermometer")
        }


class AddDuplicateForm(PlainForm):
    cylinder = forms.ModelChoiceField(Cylinder.objects.none(), empty_label="choose a cylinder")
    reason = forms.CharField(
        label="Why one more duplicate", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cylinder"].queryset = Cylinder.objects.usable(on).free()  # type: ignore[attr-defined]
        self.fields["reason"].error_messages["required"] = "Say why."


class ReasonForm(PlainForm):
    reason = forms.CharField(max_length=300, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = label
        self.fields["reason"].error_messages["required"] = "Say why."


class FlagNoteForm(PlainForm):
    note = forms.CharField(
        label="What was looked at", max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    printed = forms.BooleanField(label="Print it on the certificate", required=False, initial=True)


class PairNoteForm(PlainForm):
    note = forms.CharField(
        label="What was looked at", max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    cause_found = forms.BooleanField(
        label="A cause was found (spill, mix-up, wrong mass): leave the pair out of the laboratory's own figure",
        required=False,
    )


class DecisionForm(PlainForm):
    choice = forms.ChoiceField(
        label="What leaves the house", choices=RunDecision.Choice.choices, widget=forms.RadioSelect
    )
    note = forms.CharField(
        label="Why", required=False, max_length=500, help_text="Needed unless the figures are reported."
    )


class SignatureForm(PlainForm):
    secret = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="It signs; it is asked for each time.",
    )


def typed_number(field: models.Field[Any, Any], **kwargs: Any) -> Any:
    """Numbers of a register are read like those of the bench."""
    if not isinstance(field, models.DecimalField):
        return field.formfield(**kwargs)
    return NumberField(
        max_digits=field.max_digits,
        decimal_places=field.decimal_places,
        label=kwargs.get("label") or field.verbose_name.capitalize(),
        help_text=field.help_text,
        initial=field.default if field.has_default() else None,
    )


if TYPE_CHECKING:
    RecordForm = forms.ModelForm[Any]
else:  # generic for the type checker only
    RecordForm = forms.ModelForm


class CheckForm(PlainForm):
    """A check that found an instrument as it is recorded."""

    checked_on = forms.DateField(label="Checked on", widget=forms.DateInput(attrs={"type": "date"}))
    due_on = forms.DateField(label="Next check due on", widget=forms.DateInput(attrs={"type": "date"}))
    certificate = forms.CharField(label="Calibration certificate", required=False, max_length=120)


class EquipmentForm(RecordForm):
    """A new instrument or lot for the register."""

    days = ("checked_on", "due_on")
    units: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages["required"] = "Nothing was typed here."
            if isinstance(field, forms.DateField):
                field.widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
                field.error_messages["invalid"] = "This is not a day. Write it like 2026-03-14."

    def with_units(self) -> list[dict[str, Any]]:
        """For the page: each field with its unit."""
        return [{"field": self[name], "unit": self.units.get(name, "")} for name in self.fields]

    def require_positive(self, *names: str) -> None:
        for name in names:
            value = self.cleaned_data.get(name)
            if value is not None and value <= 0:
                self.add_error(name, f"{value} is not above 0. Read it again.")

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        began, ends = typed.get(self.days[0]), typed.get(self.days[1])
        if began is not None and began > timezone.localdate():
            self.add_error(self.days[0], f"{began:%-d %b %Y} has not come yet.")
        serial = typed.get("serial")
        if serial and self._meta.model.objects.filter(serial=serial, withdrawn_on__isnull=True).exists():
            self.add_error(
                "serial", "An instrument of this kind with this serial is in the register already."
            )
        if began is not None and ends is not None and ends <= began:
            self.add_error(self.days[1], f"{ends:%-d %b %Y} is not after {began:%-d %b %Y}.")
        return typed


_INSTRUMENT = ("serial", "checked_on", "due_on", "certificate")
_DAYS = {
    "checked_on": "Last checked on",
    "due_on": "Next check due on",
    "certificate": "Calibration certificate",
}


class HydrometerForm(EquipmentForm):
    units: ClassVar = {
        "depth_intercept_cm": "cm",
        "depth_slope_cm_per_unit": "cm",
        "insertion_displacement_cm": "cm",
    }

    class Meta:
        model = HydrometerRecord
        formfield_callback = typed_number
        fields = (
            *_INSTRUMENT,
            "scale",
            "depth_intercept_cm",
            "depth_slope_cm_per_unit",
            "meniscus_correction",
            "insertion_displacement_cm",
            "scale_minimum",
            "scale_maximum",
        )
        labels = _DAYS | {
            "depth_intercept_cm": "Effective depth at zero",
            "depth_slope_cm_per_unit": "Effective depth lost per scale unit",
            "insertion_displacement_cm": "Rise of the liquid by inserting it",
            "scale_minimum": "Lowest mark of the stem",
            "scale_maximum": "Highest mark of the stem",
        }

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        low, high, meniscus = (
            typed.get(n) for n in ("scale_minimum", "scale_maximum", "meniscus_correction")
        )
        if meniscus is not None and meniscus < 0:
            self.add_error(
                "meniscus_correction", f"{meniscus} is below 0. Write it positive, in scale units."
            )
        if low is not None and high is not None and high <= low:
            self.add_error("scale_maximum", f"{high} is not above the lowest mark {low}.")
        self.require_positive("depth_intercept_cm", "depth_slope_cm_per_unit")
        return typed


class ThermometerForm(EquipmentForm):
    units: ClassVar = {"correction_c": "°C"}

    class Meta:
        model = Thermometer
        formfield_callback = typed_number
        fields = (*_INSTRUMENT, "correction_c")
        labels = _DAYS | {"correction_c": "Correction"}


class BalanceForm(EquipmentForm):
    units: ClassVar = {"resolution_g": "g"}

    class Meta:
        model = Balance
        formfield_callback = typed_number
        fields = (*_INSTRUMENT, "resolution_g")
        labels = _DAYS | {"resolution_g": "Resolution"}

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        self.require_positive("resolution_g")
        return typed


class CylinderForm(EquipmentForm):
    units: ClassVar = {"inner_area_cm2": "cm²", "volume_ml": "mL"}

    class Meta:
        model = Cylinder
        formfield_callback = typed_number
        fields = (*_INSTRUMENT, "inner_area_cm2", "volume_ml")
        labels = _DAYS | {"inner_area_cm2": "Inner area", "volume_ml": "Volume"}

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        self.require_positive("inner_area_cm2", "volume_ml")
        return typed


class LotForm(EquipmentForm):
    days = ("made_on", "expires_on")
    units: ClassVar = {"stock_g_l": "g/L", "added_ml": "mL"}

    class Meta:
        model = DispersantLot
        formfield_callback = typed_number
        fields = ("code", "made_on", "expires_on", "stock_g_l", "added_ml")
        labels: ClassVar = {"stock_g_l": "Strength", "added_ml": "Added to each cylinder"}
        error_messages: ClassVar = {"code": {"unique": "A lot with this code is in the register already."}}

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        self.require_positive("stock_g_l", "added_ml")
        return typed


EQUIPMENT_FORMS: dict[str, type[EquipmentForm]] = {
    "hydrometer": HydrometerForm,
    "thermometer": ThermometerForm,
    "balance": BalanceForm,
    "cylinder": CylinderForm,
    "dispersant-lot": LotForm,
}
