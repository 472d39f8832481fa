"""
Invented soils and what a hydrometer would show in them.

A soil is a mixture of log-normal populations of grain sizes. A reading is found by turning
the settling equations round: the reading whose effective depth gives the diameter below
which that concentration is left. Noise and the half-gram rounding of a stem are added.
All of it is invented; none of it is a measurement.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, log, sqrt
from random import Random

from particles.distribution import Hydrometer
from particles.distribution.settling.hydrometer import concentration_factor, effective_depth_cm
from particles.distribution.settling.stokes import settling_diameter_um
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s

PARTICLE_DENSITY_G_CM3 = 2.65
NOISE_G_L = 0.2


@dataclass(frozen=True)
class Soil:
    """Populations as (share, median diameter in µm, spread of its natural logarithm); shares total 1."""

    label: str
    populations: tuple[tuple[float, float, float], ...]
    portion_g: float
    moisture_pct: float
    field_texture: str

    @property
    def by_hand(self) -> dict[str, str]:
        """What the technician of the demonstration feels: sand and clay to 5 %. [%]"""
        sand, clay = 100.0 - self.finer_than_pct(50.0), self.finer_than_pct(2.0)
        return {"sand_by_hand_pct": str(5 * round(sand / 5)), "clay_by_hand_pct": str(5 * round(clay / 5))}

    def finer_than_pct(self, diameter_um: float) -> float:
        """Invented truth: mass finer than a diameter. [%]"""
        return 100 * sum(
            share * 0.5 * (1 + erf(log(diameter_um / median_um) / (spread * sqrt(2))))
            for share, median_um, spread in self.populations
        )


SOILS = (
    Soil("Drift field A", ((0.06, 0.6, 1.1), (0.12, 14, 0.9), (0.82, 260, 0.6)), 80.0, 0.4, "loamy sand"),
    Soil("Drift field B", ((0.13, 0.5, 1.1), (0.27, 15, 0.9), (0.60, 180, 0.6)), 50.0, 0.9, "sandy loam"),
    Soil("Mill terrace 1", ((0.21, 0.5, 1.1), (0.41, 16, 0.8), (0.38, 130, 0.6)), 50.0, 1.6, "loam"),
    Soil("Mill terrace 2", ((0.17, 0.5, 1.1), (0.68, 18, 0.7), (0.15, 110, 0.5)), 50.0, 1.3, "silt loam"),
    Soil("Low meadow", ((0.33, 0.4, 1.2), (0.42, 12, 0.8), (0.25, 120, 0.6)), 40.0, 2.6, "clay loam"),
    Soil("Pond clay", ((0.58, 0.3, 1.2), (0.32, 9, 0.8), (0.10, 110, 0.5)), 30.0, 4.1, "clay"),
    Soil("Quay fill", ((0.45, 0.4, 1.1), (0.45, 14, 0.8), (0.10, 120, 0.5)), 75.0, 3.0, "silty clay"),
)
"""The last one is weighed too heavily on purpose: its first readings stand above the stem."""
BULK = Soil("Sandbank bulk", ((0.10, 0.5, 1.1), (0.22, 15, 0.9), (0.68, 210, 0.6)), 60.0, 0.6, "sandy loam")
"""The invented laboratory's own reference soil."""


def blank_reading_g_l(temperature_c: float, random: Random) -> float:
    """What the invented blank shows at the upper edge; colder is denser, about 0.29 g/L per degree at 20 C."""
    return _half(4.6 - 0.29 * (temperature_c - 20) + random.gauss(0, NOISE_G_L / 2))


def reading_g_l(
    soil: Soil,
    hydrometer: Hydrometer,
    elapsed_s: float,
    temperature_c: float,
    dispersant_g_l: float,
    random: Random,
) -> float:
    """What the stem shows in this soil after a time, rounded to half a gram per litre."""
    oven_dry_g = soil.portion_g / (1 + soil.moisture_pct / 100)
    factor = concentration_factor(hydrometer.scale, PARTICLE_DENSITY_G_CM3)
    viscosity_mpa_s = solution_viscosity_mpa_s(temperature_c, dispersant_g_l)
    excess_g_cm3 = PARTICLE_DENSITY_G_CM3 - solution_density_g_cm3(temperature_c, dispersant_g_l)
    blank = 4.6 - 0.29 * (temperature_c - 20)
    low, high = blank, blank + oven_dry_g / factor
    for _ in range(50):  # the shown reading lies where the stem and the suspension agree
        middle = (low + high) / 2
        depth_cm = max(effective_depth_cm(hydrometer, min(middle, float(hydrometer.scale_maximum))), 0.5)
        diameter_um = settling_diameter_um(depth_cm, elapsed_s, viscosity_mpa_s, excess_g_cm3)
        carried = blank + soil.finer_than_pct(diameter_um) / 100 * oven_dry_g / factor
        low, high = (middle, high) if carried > middle else (low, middle)
    return _half((low + high) / 2 + random.gauss(0, NOISE_G_L))


def _half(value: float) -> float:
    return round(value * 2) / 2
