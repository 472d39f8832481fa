"""Findings on the portion: its mass and moisture, its cylinder, its density, its dispersant."""

from __future__ import annotations

from math import hypot, sqrt

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.portion import PortionMass, by_moisture_g
from particles.distribution.inputs.pycnometer import density_by_pycnometer_g_cm3
from particles.distribution.method.edition import InputUncertainties
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.possible import PARTICLE_DENSITY_OF_SOIL_G_CM3
from particles.distribution.record import RunRecord

DENSITY_APART_G_CM3 = 0.02
"""A density worked out anew from its weighings comes as near as this; *common practice*. [g/cm³]"""
_USUAL = InputUncertainties()
VOLUME_USUAL_ML = (950.0, 1250.0)
"""Sedimentation cylinders hold 1000 or about 1130 to 1205 mL; common practice. [mL]"""


def portion_findings(
    record: RunRecord,
    mass: PortionMass | None,
    limits: QualityLimits = STANDARD_LIMITS,
    uncertainties: InputUncertainties = _USUAL,
) -> list[Finding]:
    """no_oven_dry_mass and what is unusual of mass, moisture, volume, density and dispersant, or contradicts itself."""
    found: list[Finding] = []
    if mass is None:
        found.append(finding("no_oven_dry_mass", variant="no_mass"))
    elif mass.basis == "air-dry, moisture unknown":
        found.append(finding("no_oven_dry_mass", variant="air_dry", number=mass.mass_g))
    if mass is not None:
        found += mass_findings(mass.mass_g, limits)
    if mass is not None and mass.derived and record.moisture_pct is not None:
        found += moisture_findings(record.moisture_pct, limits)
    found += _volume(record) + _masses(record, limits, uncertainties)
    return found + _density(record, limits) + _density_record(record) + _dispersant(record, limits)


def mass_findings(mass_g: float, limits: QualityLimits = STANDARD_LIMITS) -> list[Finding]:
    """mass_unusual: already true at the balance, before any reading."""
    low, high = limits.mass_usual_g
    return [] if low <= mass_g <= high else [finding("mass_unusual", number=mass_g, low=low, high=high)]


def moisture_findings(moisture_pct: float, limits: QualityLimits = STANDARD_LIMITS) -> list[Finding]:
    """moisture_unusual: 0 and below, or more than air-dry soil usually holds; it stops where none can hold as much."""
    usual_pct, most_pct = limits.moisture_usual_pct, limits.moisture_most_pct
    if 0.0 < moisture_pct <= usual_pct:
        return []
    if moisture_pct <= most_pct:
        return [finding("moisture_unusual", severity=Severity.WARN, number=moisture_pct, usual_pct=usual_pct)]
    return [
        finding(
            "moisture_unusual",
            variant="not_air_dry",
            severity=Severity.STOP,
            number=moisture_pct,
            most_pct=most_pct,
        )
    ]


def _volume(record: RunRecord) -> list[Finding]:
    low, high = VOLUME_USUAL_ML
    if low <= record.volume_ml <= high:
        return []
    return [finding("volume_unusual", number=record.volume_ml, low=low, high=high)]


def _masses(record: RunRecord, limits: QualityLimits, uncertainties: InputUncertainties) -> list[Finding]:
    """Air-dry mass, moisture and oven-dry mass, when all were given, against each other."""
    oven_dry_g, air_dry_g = record.oven_dry_mass_g, record.air_dry_mass_g
    if oven_dry_g is None or air_dry_g is None:
        return []
    weighing_g = sqrt(2.0) * uncertainties.mass_g
    more_g = oven_dry_g - air_dry_g
    if more_g > 0.0:
        stop = more_g > limits.noise_stop_sd * weighing_g
        severity = Severity.STOP if stop else Severity.WARN
        return [finding("oven_dry_above_air_dry", severity=severity, number=more_g)]
    if record.moisture_pct is None:
        return []
    expected_g = by_moisture_g(air_dry_g, record.moisture_pct)
    noise_g = hypot(weighing_g, uncertainties.moisture_of_mass_pct / 100.0 * expected_g)
    apart_g = oven_dry_g - expected_g
    if abs(apart_g) <= limits.noise_stop_sd * noise_g:
        return []
    return [
        finding(
            "masses_disagree",
            number=apart_g,
            oven_dry_g=oven_dry_g,
            air_dry_g=air_dry_g,
            moisture_pct=record.moisture_pct,
            expected_g=expected_g,
        )
    ]


def _density(record: RunRecord, limits: QualityLimits) -> list[Finding]:
    density = record.particle_density_g_cm3
    low, high = limits.density_usual_g_cm3
    found: list[Finding] = []
    if not low <= density <= high:
        found.append(finding("density_unusual", number=density, low=low, high=high))
    if not record.particle_density_measured:
        found.append(finding("density_assumed", number=density))
    return found


def _density_record(record: RunRecord) -> list[Finding]:
    """Beyond what soils have, a density needs the record of its measurement; and that record must give it."""
    density, weighed = record.particle_density_g_cm3, record.particle_density_weighings
    if weighed is not None:
        by_weighings = density_by_pycnometer_g_cm3(weighed)
        if abs(by_weighings - density) > DENSITY_APART_G_CM3:
            return [finding("density_apart", number=density - by_weighings, by_weighings=by_weighings)]
    recorded = weighed is not None or record.particle_density_document.strip() != ""
    if density in PARTICLE_DENSITY_OF_SOIL_G_CM3 or (record.particle_density_measured and recorded):
        return []
    low, high = PARTICLE_DENSITY_OF_SOIL_G_CM3.ends
    variant = "measured" if record.particle_density_measured else "assumed"
    return [finding("density_without_record", variant=variant, number=density, low=low, high=high)]


def _dispersant(record: RunRecord, limits: QualityLimits) -> list[Finding]:
    known_to, dispersant_g_l = limits.dispersant_known_to_g_l, record.dispersant_g_l
    if dispersant_g_l <= known_to:
        return []
    return [finding("dispersant_high", number=dispersant_g_l, known_to_g_l=known_to)]
