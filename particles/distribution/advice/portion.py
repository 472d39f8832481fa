"""
Advice on how much soil to weigh; no result rests on it.

Targets, common practice: first corrected reading 15 to 45 g/L, best near 30; last corrected reading 5 g/L or more;
every reading on the stem.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from particles.distribution.advice.expected import ExpectedCurve
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Hydrometer, HydrometerScale
from particles.distribution.settling.hydrometer import (
    concentration_factor,
    effective_depth_cm,
    soil_per_scale_unit_g_l,
)
from particles.distribution.settling.stokes import settling_diameter_um
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s
from particles.distribution.triple import SandSiltClay

CANDIDATES_G = (20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
"""Portion masses to choose from; *common practice*. [g]"""
FIRST_G_L = (15.0, 45.0)
"""Range of the first corrected reading; *common practice*. [g/L]"""
FIRST_BEST_G_L = 30.0
"""First corrected reading to aim at; *common practice*. [g/L]"""
LAST_LEAST_G_L = 5.0
"""Least last corrected reading; *common practice*. [g/L]"""
USUAL_BLANK_G_L = 4.6
"""Blank of 5 g/L hexametaphosphate at 20 C, upper edge of the meniscus; from memory. [g/L]"""


@dataclass(frozen=True, slots=True)
class PortionCandidate:
    """Prediction for one portion mass; readings in scale units, concentrations at 2.65 g/cm³ or as given."""

    mass_g: float
    first_reading: float
    last_reading: float
    first_corrected_g_l: float
    last_corrected_g_l: float
    on_stem: bool
    clay_standard_uncertainty_pct: float
    within_targets: bool
    shortfall: str
    """Targets it misses, as text; '' when none."""


@dataclass(frozen=True, slots=True)
class PortionAdvice:
    """Candidates in rising mass, and the one to weigh."""

    candidates: tuple[PortionCandidate, ...]
    recommended: PortionCandidate
    sentence: str


def portion_advice(
    expected: str | SandSiltClay[float],
    method: MethodEdition,
    hydrometer: Hydrometer,
    *,
    blank_g_l: float = USUAL_BLANK_G_L,
    temperature_c: float = 20.0,
    particle_density_g_cm3: float = 2.65,
    dispersant_g_l: float = 5.0,
    volume_ml: float = 1000.0,
    between_run_sd_pct: float | None = None,
    candidates_g: Sequence[float] = CANDIDATES_G,
) -> PortionAdvice:
    """
    Advice on the portion mass for a soil whose texture is about known.

    Parameters
    ----------
    expected : name of a USDA class, or sand, silt and clay. [%]
    blank_g_l : what the blank shows, on either stem as g/L of 2.65 g/cm³. [g/L]
    between_run_sd_pct : the laboratory's own, from its duplicates; None: the edition's. [percentage points]
    candidates_g : (n,) oven-dry masses to look at. [g]

    Returns
    -------
    Recommended is the candidate within all targets whose first corrected reading lies nearest 30 g/L; when there
    is none, the nearest of those on the stem, and the sentence says what it misses.
    """
    curve = ExpectedCurve(expected, (method.clay_limit_um, method.sand_limit_um))
    bath = Bath(hydrometer, temperature_c, particle_density_g_cm3, dispersant_g_l, blank_g_l, volume_ml)
    between_pct = method.dispersion_sd_pct if between_run_sd_pct is None else between_run_sd_pct
    listed = tuple(_candidate(mass_g, curve, method, bath, between_pct) for mass_g in sorted(candidates_g))
    pool = [c for c in listed if c.within_targets] or [c for c in listed if c.on_stem] or list(listed)
    best = min(pool, key=lambda c: abs(c.first_corrected_g_l - FIRST_BEST_G_L))
    why = f"; it misses a target: {best.shortfall}" if best.shortfall else ""
    sentence = (
        f"Weigh {best.mass_g:g} g: the first reading should be near {best.first_reading:.4g}, the last near "
        f"{best.last_reading:.4g}, clay good to {best.clay_standard_uncertainty_pct:.1f} percentage points{why}."
    )
    return PortionAdvice(listed, best, sentence)


@dataclass(frozen=True, slots=True)
class Bath:
    """Stem and liquid of a planned run."""

    hydrometer: Hydrometer
    temperature_c: float
    particle_density_g_cm3: float
    dispersant_g_l: float
    blank_g_l: float
    volume_ml: float

    def shown(self, soil_g_l: float) -> float:
        """Stem reading for soil in suspension, in scale units."""
        scale = self.hydrometer.scale
        net = soil_g_l / concentration_factor(scale, self.particle_density_g_cm3)
        if scale is HydrometerScale.GRAMS_PER_LITRE:
            return self.blank_g_l + net
        return 1.0 + self.blank_g_l / soil_per_scale_unit_g_l(scale) + net / 1000.0

    def diameter_um(self, reading: float, elapsed_s: float) -> float:
        """Largest particle still in suspension at a reading's depth, after a time. [µm]"""
        depth_cm = effective_depth_cm(self.hydrometer, min(reading, self.hydrometer.scale_maximum))
        viscosity = solution_viscosity_mpa_s(self.temperature_c, self.dispersant_g_l)
        liquid = solution_density_g_cm3(self.temperature_c, self.dispersant_g_l)
        return settling_diameter_um(depth_cm, elapsed_s, viscosity, self.particle_density_g_cm3 - liquid)

    def soil_g_l(self, mass_g: float, curve: ExpectedCurve, elapsed_s: float) -> float:
        """Soil in suspension at a time; the reading and its depth settle on each other within a few rounds."""
        soil_g_l = 0.0
        for _ in range(12):
            size_um = self.diameter_um(self.shown(soil_g_l), elapsed_s)
            soil_g_l = curve.percent_finer(size_um) / 100.0 * mass_g / (self.volume_ml / 1000.0)
        return soil_g_l


def _candidate(
    mass_g: float, curve: ExpectedCurve, method: MethodEdition, bath: Bath, between_run_sd_pct: float
) -> PortionCandidate:
    first = bath.soil_g_l(mass_g, curve, method.schedule_s[0])
    last = bath.soil_g_l(mass_g, curve, method.schedule_s[-1])
    stem = bath.hydrometer
    on_stem = stem.scale_minimum <= bath.shown(last) and bath.shown(first) <= stem.scale_maximum
    misses = []
    if not on_stem:
        misses.append("a reading off the stem")
    if not FIRST_G_L[0] <= first <= FIRST_G_L[1]:
        misses.append(f"first corrected reading {first:.1f} g/L, not {FIRST_G_L[0]:g} to {FIRST_G_L[1]:g}")
    if last < LAST_LEAST_G_L:
        misses.append(f"last corrected reading {last:.1f} g/L, below {LAST_LEAST_G_L:g}")
    return PortionCandidate(
        mass_g,
        bath.shown(first),
        bath.shown(last),
        first,
        last,
        on_stem,
        clay_standard_uncertainty_pct(
            curve.fractions_pct.clay,
            mass_g,
            method,
            between_run_sd_pct,
            bath.particle_density_g_cm3,
            bath.volume_ml,
        ),
        not misses,
        "; ".join(misses),
    )


def clay_standard_uncertainty_pct(
    clay_pct: float,
    mass_g: float,
    method: MethodEdition,
    between_run_sd_pct: float,
    particle_density_g_cm3: float = 2.65,
    volume_ml: float = 1000.0,
) -> float:
    """
    Standard uncertainty of clay by simple propagation, P = 100 a (R - R_b) V / M, reading at the limit. [%]

    Sizes are taken as exact and the reading as one reading, so it lies near, not at, the Monte Carlo figure.
    """
    uncertainties, density = method.uncertainties, particle_density_g_cm3
    net_g_l = hypot(
        uncertainties.reading_g_l,
        uncertainties.scale_division_g_l / sqrt(12.0),
        uncertainties.blank_g_l,
        uncertainties.blank_reading_g_l,
    )
    factor = concentration_factor(HydrometerScale.GRAMS_PER_LITRE, density)
    by_reading = 100.0 * factor * net_g_l * volume_ml / 1000.0 / mass_g
    # d ln a / d density = -1 / (density (density - 1)), from a ~ density / (density - 1).
    relative = hypot(
        uncertainties.particle_density_g_cm3 / (density * (density - 1.0)),
        uncertainties.mass_g / mass_g,
        uncertainties.volume_pct / 100.0,
    )
    return hypot(by_reading, clay_pct * relative, between_run_sd_pct)
