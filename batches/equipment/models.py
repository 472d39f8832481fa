"""Instruments, each from its own record. What is overdue or withdrawn cannot be chosen for new work."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any, Self

import pgtrigger
from django.db import models
from django.db.models import Q
from django.utils.text import capfirst

from particles.distribution import DepthLine, Hydrometer, HydrometerScale
from particles.distribution.possible import CYLINDER_ML, DISPERSANT_USUAL_G_L
from particles.records.history import audited, never_deleted
from particles.records.refusals import NotPossible


class InstrumentQuerySet(models.QuerySet[Any]):
    """Instruments of one kind, and which of them are usable."""

    def usable(self, on: date) -> Self:
        """Instruments neither withdrawn nor overdue for a check on a day."""
        return self.filter(withdrawn_on__isnull=True, due_on__gte=on)


class Instrument(models.Model):
    """The base of everything that is checked at intervals: serial, checks, withdrawal."""

    serial = models.CharField(max_length=40)
    checked_on = models.DateField(help_text="Last calibration or check.")
    due_on = models.DateField(help_text="Not to be used after this day without a new check.")
    certificate = models.CharField(max_length=120, blank=True)
    withdrawn_on = models.DateField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    objects = InstrumentQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ["serial"]

    def __str__(self) -> str:
        return f"{self._meta.verbose_name} {self.serial}"

    def condition(self, on: date) -> str:
        """The condition on a day: in service, overdue or withdrawn."""
        if self.withdrawn_on is not None:
            return "withdrawn"
        return "in service" if self.due_on >= on else "overdue"

    def why_unusable(self, on: date) -> str:
        """What keeps it from being used on a day, with the day since when; '' when nothing does."""
        if self.withdrawn_on is not None and self.withdrawn_on <= on:
            return (
                f"{self} was withdrawn on {self.withdrawn_on:%-d %b %Y} ({self.withdrawn_reason.rstrip('.')})"
            )
        if self.due_on < on:
            return f"{self} is overdue, its check was due on {self.due_on:%-d %b %Y}"
        return ""

    def require_usable(self, on: date) -> None:
        """Refuse an instrument that is overdue or withdrawn on a day."""
        why = self.why_unusable(on)
        if why:
            raise NotPossible(f"{capfirst(why)}. Choose another, or have it checked.")

    def checked(self, *, on: date, due_on: date, certificate: str, today: date) -> None:
        """Record a check that found the instrument as recorded. Another calibration is another record."""
        if self.withdrawn_on is not None:
            raise NotPossible(f"{self} is withdrawn; enter it anew.")
        if not self.checked_on <= on <= today:
            raise NotPossible(
                f"A check on {on} does not lie between the last one ({self.checked_on}) and today."
            )
        if due_on <= on:
            raise NotPossible(f"The next check ({due_on}) must come after this one ({on}).")
        self.checked_on, self.due_on, self.certificate = on, due_on, certificate
        self.save(update_fields=["checked_on", "due_on", "certificate"])

    def withdraw(self, *, on: date, reason: str) -> None:
        """Withdraw the instrument for good, with a reason."""
        if not reason:
            raise NotPossible("Say why the instrument is withdrawn.")
        self.withdrawn_on, self.withdrawn_reason = on, reason
        self.save(update_fields=["withdrawn_on", "withdrawn_reason"])


def _register_rules(name: str) -> list[models.BaseConstraint]:
    return [
        models.CheckConstraint(
            condition=Q(withdrawn_on__isnull=True) | ~Q(withdrawn_reason=""),
            name=f"{name}_withdrawal_has_a_reason",
        ),
        models.UniqueConstraint(
            fields=["serial"],
            condition=Q(withdrawn_on__isnull=True),
            name=f"{name}_serial_is_in_service_once",
            violation_error_message="An instrument of this kind with this serial is in the register already.",
        ),
    ]


def _calibration_stays(*columns: str) -> pgtrigger.ReadOnly:
    """The database refuses a change of what was calibrated: another calibration is another record."""
    return pgtrigger.ReadOnly(name="calibration_stays", fields=["serial", *columns])


CALIBRATED = (
    "scale",
    "depth_intercept_cm",
    "depth_slope_cm_per_unit",
    "meniscus_correction",
    "insertion_displacement_cm",
    "scale_minimum",
    "scale_maximum",
)
"""What was measured on a hydrometer."""


@audited
class HydrometerRecord(Instrument):
    """
    One hydrometer: scale, effective depth and meniscus as measured on this instrument.

    depth: L = depth_intercept_cm - depth_slope_cm_per_unit * R', R' the reading at the true
    liquid level in scale units (151H: relative density - 1).
    """

    SCALES = [(s.value, f"{s.value} ({s.name.lower().replace('_', ' ')})") for s in HydrometerScale]

    scale = models.CharField(max_length=4, choices=SCALES)
    depth_intercept_cm = models.DecimalField(max_digits=6, decimal_places=3)
    depth_slope_cm_per_unit = models.DecimalField(max_digits=8, decimal_places=4)
    meniscus_correction = models.DecimalField(
        max_digits=7, decimal_places=4, help_text="Positive, in scale units."
    )
    insertion_displacement_cm = models.DecimalField(max_digits=5, decimal_places=3, default=0)
    scale_minimum = models.DecimalField(max_digits=7, decimal_places=4)
    scale_maximum = models.DecimalField(max_digits=7, decimal_places=4)

    class Meta(Instrument.Meta):
        verbose_name = "hydrometer"
        constraints = [
            *_register_rules("hydrometer"),
            models.CheckConstraint(condition=Q(meniscus_correction__gte=0), name="meniscus_not_negative"),
            models.CheckConstraint(
                condition=Q(scale_maximum__gt=models.F("scale_minimum")), name="scale_has_a_range"
            ),
        ]
        triggers = [
            never_deleted(),
            _calibration_stays(*CALIBRATED),
        ]

    @staticmethod
    @lru_cache(maxsize=256)
    def calibrated(pk: int) -> HydrometerRecord:
        """One hydrometer as it was calibrated, read once in each process: the database refuses every change of that."""
        return HydrometerRecord.objects.only("serial", *CALIBRATED).get(pk=pk)

    def as_measured(self) -> Hydrometer:
        """The instrument as the arithmetic takes it."""
        return Hydrometer(
            identity=self.serial,
            scale=HydrometerScale(self.scale),
            depth=DepthLine(float(self.depth_intercept_cm), float(self.depth_slope_cm_per_unit)),
            meniscus_correction=float(self.meniscus_correction),
            insertion_displacement_cm=float(self.insertion_displacement_cm),
            scale_minimum=float(self.scale_minimum),
            scale_maximum=float(self.scale_maximum),
        )


@audited
class Thermometer(Instrument):
    """One thermometer with its correction."""

    correction_c = models.DecimalField(
        max_digits=4, decimal_places=2, default=0, help_text="Added to what is read."
    )

    class Meta(Instrument.Meta):
        verbose_name = "thermometer"
        constraints = _register_rules("thermometer")
        triggers = [never_deleted(), _calibration_stays("correction_c")]


@audited
class Balance(Instrument):
    """One balance with the step of its reading."""

    resolution_g = models.DecimalField(max_digits=6, decimal_places=4)

    class Meta(Instrument.Meta):
        verbose_name = "balance"
        constraints = _register_rules("balance")
        triggers = [never_deleted(), _calibration_stays("resolution_g")]


class CylinderQuerySet(InstrumentQuerySet):
    """Cylinders, and which of them are free for a batch."""

    def free(self) -> Self:
        """Cylinders that stand in no batch that is still planned, soaked, filled or read."""
        in_use = Q(runs__batch__state__in=("planned", "soaking", "dispersed", "running"))
        return self.exclude(
            pk__in=self.model.objects.filter(in_use, runs__taken_out__isnull=True).values("pk")
        )


@audited
class Cylinder(Instrument):
    """One sedimentation cylinder with its measures."""

    inner_area_cm2 = models.DecimalField(max_digits=6, decimal_places=2)
    volume_ml = models.DecimalField(
        max_digits=6, decimal_places=1, default=1000, help_text="At the mark, by weighing."
    )

    objects = CylinderQuerySet.as_manager()  # type: ignore[misc]

    class Meta(Instrument.Meta):
        verbose_name = "cylinder"
        constraints = _register_rules("cylinder")
        triggers = [never_deleted(), _calibration_stays("inner_area_cm2", "volume_ml")]


@audited
class DispersantLot(models.Model):
    """One made-up lot of dispersant solution; a batch uses one lot for samples and blank alike."""

    class Substance(models.TextChoices):
        """Dispersants whose density and viscosity in water the arithmetic knows."""

        HEXAMETAPHOSPHATE = "sodium hexametaphosphate", "sodium hexametaphosphate"

    code = models.CharField(max_length=40, unique=True)
    # Null and not '', because the history chain hashes rows without their nulls.
    substance = models.CharField(  # noqa: DJ001
        max_length=40,
        choices=Substance.choices,
        null=True,
        help_text="Density and viscosity are known for this one only; empty: recorded before it was asked for.",
    )
    made_on = models.DateField()
    expires_on = models.DateField()
    stock_g_l = models.DecimalField(max_digits=6, decimal_places=2, help_text="Strength of the solution.")
    added_ml = models.DecimalField(max_digits=6, decimal_places=1, help_text="Added to each cylinder.")

    class Meta:
        ordering = ["-made_on", "code"]
        verbose_name = "dispersant lot"
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_on__gt=models.F("made_on")), name="lot_expires_after_making"
            ),
            models.CheckConstraint(
                condition=Q(stock_g_l__gt=0, added_ml__gt=0), name="lot_strength_positive"
            ),
            models.CheckConstraint(
                condition=Q(substance__isnull=True) | Q(substance="sodium hexametaphosphate"),
                name="lot_substance_known",
            ),
        ]
        triggers = [
            never_deleted(),
            pgtrigger.ReadOnly(
                name="lot_stays",
                fields=["code", "substance", "made_on", "expires_on", "stock_g_l", "added_ml"],
            ),
        ]

    def __str__(self) -> str:
        return f"dispersant lot {self.code}"

    def require_usable(self, on: date) -> None:
        """Refuse a lot that is not yet made or has expired on a day."""
        if not self.made_on <= on <= self.expires_on:
            raise NotPossible(
                f"{self} is good from {self.made_on} to {self.expires_on}, not on {on}. Use another lot."
            )
        if not self.is_plausible:
            raise NotPossible(f"{self} {implausible_strength(self.stock_g_l, self.added_ml)}")

    @property
    def is_plausible(self) -> bool:
        """Whether it gives a usual concentration in a usual cylinder."""
        return not implausible_strength(self.stock_g_l, self.added_ml)

    def in_cylinder_g_l(self, volume_ml: float) -> float:
        """Concentration of dispersant in the filled cylinder. [g/L]"""
        return float(self.stock_g_l) * float(self.added_ml) / volume_ml


def implausible_strength(stock_g_l: Decimal, added_ml: Decimal) -> str:
    """What is wrong with a strength and a volume that give a concentration no cylinder holds; '' when nothing is."""
    held_g_l = float(stock_g_l) * float(added_ml) / CYLINDER_ML
    if held_g_l in DISPERSANT_USUAL_G_L:
        return ""
    return (
        f"gives {held_g_l:.3g} g/L in a cylinder of {CYLINDER_ML:g} mL; {DISPERSANT_USUAL_G_L} is usual. "
        "Look at the strength of the solution, in g/L, and at the volume added; enter the lot as it is."
    )
