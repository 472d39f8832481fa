"""A particle density with the record of its measurement: what a portion and a correction of it both hold."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models

from particles.distribution import Pycnometer
from particles.distribution.findings.portion import DENSITY_APART_G_CM3
from particles.distribution.inputs.pycnometer import density_by_pycnometer_g_cm3
from particles.distribution.possible import PARTICLE_DENSITY_OF_SOIL_G_CM3
from particles.records.refusals import NotPossible

WEIGHED = ("pycnometer_soil_g", "pycnometer_water_g", "pycnometer_full_g", "pycnometer_water_c")
"""Fields of the weighings of a pycnometer: all of them, or none."""


class ParticleDensity(models.Model):
    """A particle density, whether it was measured, and by which weighings or after which document."""

    particle_density_g_cm3 = models.DecimalField(max_digits=5, decimal_places=3, default="2.650")
    particle_density_measured = models.BooleanField(default=False)
    density_document = models.CharField(  # noqa: DJ001 - the history hashes rows without their nulls
        max_length=200, null=True, blank=True, help_text="Where a measured density comes from."
    )
    pycnometer_soil_g = models.DecimalField(
        max_digits=8, decimal_places=4, null=True, blank=True, help_text="Oven-dry soil in the pycnometer."
    )
    pycnometer_water_g = models.DecimalField(
        max_digits=8, decimal_places=4, null=True, blank=True, help_text="Filled with water alone."
    )
    pycnometer_full_g = models.DecimalField(
        max_digits=8, decimal_places=4, null=True, blank=True, help_text="Filled with soil and water."
    )
    pycnometer_water_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def pycnometer(self) -> Pycnometer | None:
        """The weighings of its pycnometer; None when they are not on record."""
        return pycnometer_of({name: getattr(self, name) for name in WEIGHED})

    @property
    def recorded_density(self) -> dict[str, Any]:
        """The fields that hold the density, as another record of the same soil takes them over."""
        return {each.name: getattr(self, each.name) for each in ParticleDensity._meta.get_fields()}

    @property
    def density_in_words(self) -> str:
        """The particle density with its unit, whether it was measured, and by what."""
        how = "measured" if self.particle_density_measured else "assumed"
        by = " by pycnometer" if self.pycnometer is not None else ""
        document = f", {self.density_document}" if self.density_document else ""
        return f"{self.particle_density_g_cm3:.3f} g/cm³, {how}{by}{document}"


def pycnometer_of(typed: dict[str, Any]) -> Pycnometer | None:
    """The weighings among typed fields; None while one of them is missing."""
    weighed = [typed.get(name) for name in WEIGHED]
    if any(value is None for value in weighed):
        return None
    return Pycnometer(*(float(value) for value in weighed))  # type: ignore[arg-type]


def why_not_believed(
    density_g_cm3: Decimal, *, measured: bool, document: str, weighed: Pycnometer | None
) -> str:
    """
    Why a density does not stand by itself; '' when it does.

    Raises
    ------
    PycnometerError when its weighings give no density at all.
    """
    if weighed is not None:
        by_weighings = density_by_pycnometer_g_cm3(weighed)
        if abs(by_weighings - float(density_g_cm3)) > DENSITY_APART_G_CM3:
            return (
                f"The pycnometer's weighings give {by_weighings:.3f} g/cm³, not {density_g_cm3:f}. "
                "Read them and the density again."
            )
    if density_g_cm3 in PARTICLE_DENSITY_OF_SOIL_G_CM3 or (measured and (weighed is not None or document)):
        return ""
    low, high = PARTICLE_DENSITY_OF_SOIL_G_CM3.ends
    return (
        f"{density_g_cm3:f} g/cm³ lies outside {low} to {high}, where soils lie. Type the pycnometer's weighings, or "
        "the document the density comes from."
    )


def require_believed(fields: dict[str, Any]) -> None:
    """Refuse a density that needs the record of its measurement and has none (NotPossible)."""
    said = why_not_believed(
        Decimal(fields.get("particle_density_g_cm3", "2.650")),
        measured=bool(fields.get("particle_density_measured")),
        document=(fields.get("density_document") or "").strip(),
        weighed=pycnometer_of(fields),
    )
    if said:
        raise NotPossible(said)
