"""Oven-dry mass of the portion: given, or from its air-dry mass and moisture."""

from __future__ import annotations

from dataclasses import dataclass

from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.record import Finding, RunRecord, Severity

VOLUME_USUAL_ML = (950.0, 1250.0)
"""Sedimentation cylinders hold 1000 or about 1130 to 1205 mL; common practice. [mL]"""


@dataclass(frozen=True, slots=True)
class PortionMass:
    mass_g: float
    """What percentages refer to. [g]"""
    basis: str
    """'weighed oven-dry', 'air-dry less moisture' or 'air-dry, moisture unknown'."""
    derived: bool = False
    """True when a moisture went into it."""


def portion_mass(record: RunRecord) -> PortionMass | None:
    """The mass percentages refer to; None when no mass was given."""
    if record.oven_dry_mass_g is not None:
        return PortionMass(record.oven_dry_mass_g, "weighed oven-dry")
    if record.air_dry_mass_g is None:
        return None
    if record.moisture_pct is None:
        return PortionMass(record.air_dry_mass_g, "air-dry, moisture unknown")
    return PortionMass(
        record.air_dry_mass_g / (1.0 + record.moisture_pct / 100.0), "air-dry less moisture", True
    )


def moisture_pct(air_dry_g: float, oven_dry_g: float) -> float:
    """Air-dry moisture on oven-dry basis. [%]"""
    return 100.0 * (air_dry_g - oven_dry_g) / oven_dry_g


def of_whole_sample_pct(percent_of_fine_earth: float, gravel_pct: float) -> float:
    """Percent of the fine earth turned into percent of the sample with its gravel. [%]"""
    return percent_of_fine_earth * (100.0 - gravel_pct) / 100.0


def portion_findings(
    record: RunRecord, mass: PortionMass | None, limits: QualityLimits = STANDARD_LIMITS
) -> list[Finding]:
    """no_oven_dry_mass and what is unusual of mass, moisture, volume, density and dispersant."""
    found: list[Finding] = []
    if mass is None or mass.basis == "air-dry, moisture unknown":
        shown = "percentages need it" if mass is None else f"figures stand on {mass.mass_g:.2f} g air-dry"
        found.append(
            Finding(
                "no_oven_dry_mass",
                Severity.STOP,
                f"There is no oven-dry mass: {shown}.",
                "Dry and weigh the moisture dish, or enter the oven-dry mass.",
                mass.mass_g if mass else None,
                "g",
            )
        )
    if mass is not None:
        found += mass_findings(mass.mass_g, limits)
    if mass is not None and mass.derived and record.moisture_pct is not None:
        found += moisture_findings(record.moisture_pct, limits)
    return found + _volume(record) + _air_dry_lighter(record) + _density(record, limits)


def _volume(record: RunRecord) -> list[Finding]:
    low, high = VOLUME_USUAL_ML
    if low <= record.volume_ml <= high:
        return []
    sentence = f"The cylinder is filled to {record.volume_ml:g} mL; {low:g} to {high:g} mL is usual."
    step = "Check the cylinder's mark; every percentage goes with the volume."
    return [Finding("volume_unusual", Severity.WARN, sentence, step, record.volume_ml, "mL")]


def _air_dry_lighter(record: RunRecord) -> list[Finding]:
    if record.oven_dry_mass_g is None or record.air_dry_mass_g is None:
        return []
    more_g = record.oven_dry_mass_g - record.air_dry_mass_g
    if more_g <= 0.0:
        return []
    sentence = f"The portion weighs {more_g:.2f} g more oven-dry than air-dry, which no soil does."
    step = "Check both weighings and their tares."
    return [Finding("oven_dry_above_air_dry", Severity.WARN, sentence, step, more_g, "g")]


def mass_findings(mass_g: float, limits: QualityLimits = STANDARD_LIMITS) -> list[Finding]:
    """mass_unusual: already true at the balance, before any reading."""
    low, high = limits.mass_usual_g
    if low <= mass_g <= high:
        return []
    sentence = f"The portion weighs {mass_g:.2f} g, not the usual {low:g} to {high:g} g."
    step = "Check the weighing; repeat with a usual portion if readings are off scale or faint."
    return [Finding("mass_unusual", Severity.WARN, sentence, step, mass_g, "g")]


def moisture_findings(moisture_pct: float, limits: QualityLimits = STANDARD_LIMITS) -> list[Finding]:
    """moisture_unusual: 0 and below, or more than air-dry soil holds."""
    usual_pct = limits.moisture_usual_pct
    if 0.0 < moisture_pct <= usual_pct:
        return []
    sentence = f"Air-dry moisture is {moisture_pct:.2f} %; above 0 and up to {usual_pct:g} % is usual."
    step = "Check the three dish weighings."
    return [Finding("moisture_unusual", Severity.WARN, sentence, step, moisture_pct, "%")]


def _density(record: RunRecord, limits: QualityLimits) -> list[Finding]:
    density = record.particle_density_g_cm3
    low, high = limits.density_usual_g_cm3
    found: list[Finding] = []
    if not low <= density <= high:
        sentence = f"Particle density is {density:.3f} g/cm³; {low:g} to {high:g} is usual for soil."
        step = "Confirm the pycnometer result; it moves every size and percentage."
        found.append(Finding("density_unusual", Severity.WARN, sentence, step, density, "g/cm³"))
    if not record.particle_density_measured:
        sentence = f"Particle density {density:.2f} g/cm³ is assumed, not measured."
        step = "Print it with the result; measure it for organic, volcanic or iron-rich soil."
        found.append(Finding("density_assumed", Severity.NOTE, sentence, step, density, "g/cm³"))
    if record.dispersant_g_l > limits.dispersant_known_to_g_l:
        known = limits.dispersant_known_to_g_l
        sentence = (
            f"{record.dispersant_g_l:g} g/L of dispersant; the liquid's formulas are known to {known:g} g/L."
        )
        step = "Check that it is the concentration in the filled cylinder."
        found.append(Finding("dispersant_high", Severity.WARN, sentence, step, record.dispersant_g_l, "g/L"))
    return found
