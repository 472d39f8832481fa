"""Findings on the portion: its mass and moisture, its cylinder, its density, its dispersant."""

from __future__ import annotations

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.portion import PortionMass
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.record import RunRecord

VOLUME_USUAL_ML = (950.0, 1250.0)
"""Sedimentation cylinders hold 1000 or about 1130 to 1205 mL; common practice. [mL]"""


def portion_findings(
    record: RunRecord, mass: PortionMass | None, limits: QualityLimits = STANDARD_LIMITS
) -> list[Finding]:
    """no_oven_dry_mass and what is unusual of mass, moisture, volume, density and dispersant."""
    found: list[Finding] = []
    if mass is None:
        found.append(finding("no_oven_dry_mass", variant="no_mass"))
    elif mass.basis == "air-dry, moisture unknown":
        found.append(finding("no_oven_dry_mass", variant="air_dry", number=mass.mass_g))
    if mass is not None:
        found += mass_findings(mass.mass_g, limits)
    if mass is not None and mass.derived and record.moisture_pct is not None:
        found += moisture_findings(record.moisture_pct, limits)
    return found + _volume(record) + _air_dry_lighter(record) + _density(record, limits)


def mass_findings(mass_g: float, limits: QualityLimits = STANDARD_LIMITS) -> list[Finding]:
    """mass_unusual: already true at the balance, before any reading."""
    low, high = limits.mass_usual_g
    return [] if low <= mass_g <= high else [finding("mass_unusual", number=mass_g, low=low, high=high)]


def moisture_findings(moisture_pct: float, limits: QualityLimits = STANDARD_LIMITS) -> list[Finding]:
    """moisture_unusual: 0 and below, or more than air-dry soil holds."""
    usual_pct = limits.moisture_usual_pct
    if 0.0 < moisture_pct <= usual_pct:
        return []
    return [finding("moisture_unusual", number=moisture_pct, usual_pct=usual_pct)]


def _volume(record: RunRecord) -> list[Finding]:
    low, high = VOLUME_USUAL_ML
    if low <= record.volume_ml <= high:
        return []
    return [finding("volume_unusual", number=record.volume_ml, low=low, high=high)]


def _air_dry_lighter(record: RunRecord) -> list[Finding]:
    if record.oven_dry_mass_g is None or record.air_dry_mass_g is None:
        return []
    more_g = record.oven_dry_mass_g - record.air_dry_mass_g
    return [finding("oven_dry_above_air_dry", number=more_g)] if more_g > 0.0 else []


def _density(record: RunRecord, limits: QualityLimits) -> list[Finding]:
    density, dispersant_g_l = record.particle_density_g_cm3, record.dispersant_g_l
    low, high = limits.density_usual_g_cm3
    found: list[Finding] = []
    if not low <= density <= high:
        found.append(finding("density_unusual", number=density, low=low, high=high))
    if not record.particle_density_measured:
        found.append(finding("density_assumed", number=density))
    if dispersant_g_l > limits.dispersant_known_to_g_l:
        known_to = limits.dispersant_known_to_g_l
        found.append(finding("dispersant_high", number=dispersant_g_l, known_to_g_l=known_to))
    return found
