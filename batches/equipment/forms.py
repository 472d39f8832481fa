"""Reads what the custodian enters of instruments and lots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.db import models
from django.utils import timezone

from batches.entries.forms import NumberField, PlainForm
from batches.equipment.models import (
    CALIBRATED,
    Balance,
    Cylinder,
    DispersantLot,
    HydrometerRecord,
    Thermometer,
    implausible_strength,
)

if TYPE_CHECKING:
    RecordForm = forms.ModelForm[Any]
else:  # generic for the type checker only
    RecordForm = forms.ModelForm


def typed_number(field: models.Field[Any, Any], **kwargs: Any) -> Any:
    """A field for a number of the register, read like those of the bench."""
    if not isinstance(field, models.DecimalField):
        return field.formfield(**kwargs)
    return NumberField(
        max_digits=field.max_digits,
        decimal_places=field.decimal_places,
        label=kwargs.get("label") or field.verbose_name.capitalize(),
        help_text=field.help_text,
        initial=field.default if field.has_default() else None,
    )


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
        for name, field in self.fields.items():
            field.error_messages["required"] = "Nothing was typed here."
            if isinstance(field, NumberField):
                field.unit = self.units.get(name, "")
            if isinstance(field, forms.DateField):
                field.widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
                field.error_messages["invalid"] = "This is not a day. Write it like 2026-03-14."

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
    """A new hydrometer with its calibration."""

    units: ClassVar = {
        "depth_intercept_cm": "cm",
        "depth_slope_cm_per_unit": "cm",
        "insertion_displacement_cm": "cm",
    }

    class Meta:
        model = HydrometerRecord
        formfield_callback = typed_number
        fields = (*_INSTRUMENT, *CALIBRATED)
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
    """A new thermometer with its correction."""

    units: ClassVar = {"correction_c": "°C"}

    class Meta:
        model = Thermometer
        formfield_callback = typed_number
        fields = (*_INSTRUMENT, "correction_c")
        labels = _DAYS | {"correction_c": "Correction"}


class BalanceForm(EquipmentForm):
    """A new balance with the step of its reading."""

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
    """A new cylinder with its measures."""

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
    """A new lot of dispersant solution."""

    days = ("made_on", "expires_on")
    units: ClassVar = {"stock_g_l": "g/L", "added_ml": "mL"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["substance"].initial = DispersantLot.Substance.HEXAMETAPHOSPHATE

    class Meta:
        model = DispersantLot
        formfield_callback = typed_number
        fields = ("code", "substance", "made_on", "expires_on", "stock_g_l", "added_ml")
        labels: ClassVar = {
            "substance": "Substance",
            "stock_g_l": "Strength",
            "added_ml": "Added to each cylinder",
        }
        error_messages: ClassVar = {"code": {"unique": "A lot with this code is in the register already."}}

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        self.require_positive("stock_g_l", "added_ml")
        if not self.errors and (wrong := implausible_strength(typed["stock_g_l"], typed["added_ml"])):
            self.add_error("stock_g_l", f"This {wrong}")
        return typed


EQUIPMENT_FORMS: dict[str, type[EquipmentForm]] = {
    "hydrometer": HydrometerForm,
    "thermometer": ThermometerForm,
    "balance": BalanceForm,
    "cylinder": CylinderForm,
    "dispersant-lot": LotForm,
}
