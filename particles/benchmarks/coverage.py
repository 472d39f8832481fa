"""
Coverage of 95 % intervals: soils of known composition are run and read with errors.

The errors of what goes in are those an edition states: nothing is smaller, larger or left out. A soil's curve is
known at every size, so every reading is what Stokes and the hydrometer would show of it, found by repetition because
depth and reading depend on each other. Soils are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import erf, log, sqrt

import numpy as np

from particles.distribution import (
    BlankReading,
    DepthLine,
    Hydrometer,
    HydrometerScale,
    MethodEdition,
    ReadingPoint,
    RunRecord,
    SieveMass,
    Sieving,
    compute_distribution,
)
from particles.distribution.inputs.served_blank import DAY_S, SHIFT_SD_G_L_PER_C, WANDERS_G_L_PER_DAY
from particles.distribution.settling.hydrometer import (
    density_factor,
    effective_depth_cm,
    temperature_difference_correction,
)
from particles.distribution.settling.stokes import settling_paths
from particles.distribution.triple import SandSiltClay, with_silt_between

Curve = Callable[[float], float]
"""Percent finer at a diameter in µm."""
STEM = Hydrometer("invented", HydrometerScale.GRAMS_PER_LITRE, DepthLine(16.295, 0.1641), 0.5, 1.2)
DISPERSANT_G_L = 5.0
BLANK_G_L = 4.5
SIEVES_UM = (1000.0, 500.0, 250.0, 106.0, 53.0)


@dataclass(frozen=True, slots=True)
class Soil:
    """A composition and the curve that has it."""

    sand_pct: float
    clay_pct: float
    curve: Curve


Soils = Callable[[np.random.Generator], Soil]


def straight_soil(random: np.random.Generator) -> Soil:
    """Soil that is straight in log diameter, so that reading off between two points adds no error."""
    clay, sand = random.uniform(8.0, 45.0), random.uniform(8.0, 45.0)
    slope = (100.0 - sand - clay) / log(50.0 / 2.0)
    return Soil(sand, clay, lambda um: clay + slope * log(um / 2.0))


def _of_populations(*populations: tuple[float, float, float]) -> Soil:
    """Soil of log-normal populations as (share, median in µm, spread of the natural logarithm), cut at 2 mm."""

    def uncut(um: float) -> float:
        return sum(
            50.0 * part * (1.0 + erf(log(um / at) / spread / sqrt(2.0))) for part, at, spread in populations
        )

    whole = uncut(2000.0)

    def curve(um: float) -> float:
        return 100.0 * uncut(um) / whole

    return Soil(100.0 - curve(50.0), curve(2.0), curve)


def smooth_soil(random: np.random.Generator) -> Soil:
    """
    Soil of two log-normal populations: a curve that bends between the readings, as real ones do.

    Reading off straight between two points then errs: with the nine readings, which leave 2 h to 24 h empty, by 0.5
    points of clay (standard deviation over such soils); with the ten, which have one at 8 h, by 0.1.
    """
    share, fine, coarse = random.uniform(0.2, 0.6), random.uniform(0.7, 2.5), random.uniform(15.0, 60.0)
    wide, narrow = random.uniform(1.0, 1.6), random.uniform(0.8, 1.3)
    return _of_populations((share, fine, wide), (1.0 - share, coarse, narrow))


def triangle_soil(random: np.random.Generator) -> Soil:
    """Soil of three log-normal populations, sand, silt and clay in any shares: the whole texture triangle."""
    shares = random.dirichlet((1.0, 1.0, 1.0)).tolist()
    places = ((80.0, 500.0), (4.0, 40.0), (0.2, 1.5))
    spreads = ((0.4, 1.0), (0.5, 1.3), (0.7, 1.6))
    populations = [
        (share, random.uniform(*place), random.uniform(*spread))
        for share, place, spread in zip(shares, places, spreads, strict=True)
    ]
    return _of_populations(*populations)


def loess_soil(random: np.random.Generator) -> Soil:
    """Soil of a narrow population across the sand limit beside some clay: the most between 50 and 53 µm."""
    share, coarse, narrow = random.uniform(0.1, 0.3), random.uniform(25.0, 55.0), random.uniform(0.35, 0.7)
    fine, wide = random.uniform(0.5, 1.5), random.uniform(1.0, 1.6)
    return _of_populations((share, fine, wide), (1.0 - share, coarse, narrow))


def hidden_soil(random: np.random.Generator) -> Soil:
    """Soil with a narrow population at 2.5 to 6 µm, between 2 h and 24 h, where nine or four readings have none."""
    fine, share, at = random.uniform(0.1, 0.25), random.uniform(0.2, 0.4), random.uniform(2.5, 6.0)
    return _of_populations((fine, 0.6, 1.0), (share, at, 0.35), (1.0 - fine - share, 40.0, 0.9))


@dataclass(frozen=True, slots=True)
class Apart:
    """How far from the readings the blank of a run is read."""

    later_s: float
    """After each time of the schedule. [s]"""
    warmer_c: float
    """Warmer or colder than the suspension, at random. [C]"""
    times_s: tuple[float, ...] = ()
    """Times it is read at instead of those of the schedule. [s]"""


@dataclass(frozen=True, slots=True)
class _Series:
    """Readings of a blank and what wandered at the readings of the run meanwhile."""

    blanks: tuple[BlankReading, ...] = ()
    wandered_g_l: tuple[float, ...] = ()


def _blank_apart(
    method: MethodEdition, apart: Apart, level_g_l: float, temperature_c: float, random: np.random.Generator
) -> _Series:
    """A blank whose level wanders and whose temperature does what is doubted of it."""
    sizes, normal = method.uncertainties, random.standard_normal
    read_s = [t + apart.later_s for t in apart.times_s or method.schedule_s]
    steps_s = sorted({*read_s, *method.schedule_s})
    wandered, level = {steps_s[0]: 0.0}, 0.0
    for before_s, after_s in pairwise(steps_s):
        level += WANDERS_G_L_PER_DAY * sqrt((after_s - before_s) / DAY_S) * normal()
        wandered[after_s] = level
    per_c, blanks = SHIFT_SD_G_L_PER_C * normal(), []
    for at_s in read_s:
        warm_c = temperature_c + apart.warmer_c * random.choice((-1.0, 1.0))
        lower = temperature_difference_correction(STEM.scale, warm_c, temperature_c)
        shown = level_g_l + wandered[at_s] - lower + per_c * (warm_c - temperature_c)
        shown += sizes.blank_reading_g_l * normal()
        blanks.append(BlankReading(at_s, warm_c + sizes.thermometer_c * normal(), round(shown, 9)))
    return _Series(tuple(blanks), tuple(wandered[t] for t in method.schedule_s))


def observed_run(
    soil: Soil,
    method: MethodEdition,
    random: np.random.Generator,
    *,
    sieved: bool,
    portion_g: float = 40.0,
    apart: Apart | None = None,
) -> RunRecord:
    """The record of one run of a soil, every input off by an error of the edition's size."""
    uncertainties, temperature_c = method.uncertainties, round(random.uniform(18.0, 25.0), 1)
    normal = random.standard_normal
    density = 2.65 + uncertainties.particle_density_g_cm3 * normal()
    mass_g = portion_g + uncertainties.mass_g * normal()
    mass_g *= 1.0 + uncertainties.moisture_of_mass_pct / 100.0 * normal()
    litres = 1.0 + uncertainties.volume_pct / 100.0 * normal()
    true_c = temperature_c + uncertainties.temperature_c * normal()
    later_s, deeper_cm = uncertainties.start_s * normal(), uncertainties.depth_cm * normal()
    times = [elapsed_s + later_s for elapsed_s in method.schedule_s]
    paths = settling_paths(times, [true_c] * len(times), DISPERSANT_G_L)
    other_liquid_g_l = uncertainties.blank_g_l * normal()
    level_g_l = BLANK_G_L + other_liquid_g_l
    series = _Series() if apart is None else _blank_apart(method, apart, level_g_l, temperature_c, random)
    wandered = series.wandered_g_l or (0.0,) * len(paths)
    readings = []
    for elapsed_s, path, off_g_l in zip(method.schedule_s, paths, wandered, strict=True):
        shown = BLANK_G_L + 15.0
        for _ in range(12):
            size_um = path.diameter_um(effective_depth_cm(STEM, shown) + deeper_cm, density)
            held_g_l = soil.curve(size_um) * mass_g / 100.0 / litres
            shown = BLANK_G_L + held_g_l / density_factor(density)
        division = uncertainties.scale_division_g_l
        read = division * round((shown + off_g_l + uncertainties.reading_g_l * normal()) / division)
        blank = level_g_l + uncertainties.blank_reading_g_l * normal()
        readings.append(
            ReadingPoint(
                elapsed_s,
                temperature_c + uncertainties.thermometer_c * normal(),
                reading=read,
                blank_reading=round(blank, 9),
                blank_temperature_c=temperature_c + uncertainties.thermometer_c * normal(),
            )
        )
    return RunRecord(
        "invented",
        STEM,
        tuple(readings),
        air_dry_mass_g=portion_g * 1.02,
        moisture_pct=2.0,
        dispersant_g_l=DISPERSANT_G_L,
        sieving=_sieving(soil.curve, mass_g, method, random) if sieved else None,
        blanks=series.blanks,
    )


def _sieving(curve: Curve, mass_g: float, method: MethodEdition, random: np.random.Generator) -> Sieving:
    uncertainties = method.uncertainties
    wider = 1.0 + uncertainties.sieve_opening_pct / 100.0 * random.standard_normal()
    passing = [100.0, *(min(curve(um * wider), 100.0) for um in SIEVES_UM)]
    held_g = [(above - below) / 100.0 * mass_g for above, below in pairwise(passing)]
    # A sieve that weighs no more than its tare is written down as empty.
    weighed = [max(each + uncertainties.sieve_mass_g * random.standard_normal(), 0.0) for each in held_g]
    stack = tuple(SieveMass(um, mass_g) for um, mass_g in zip(SIEVES_UM, weighed, strict=True))
    return Sieving(sum(weighed), stack, 0.0)


@dataclass(frozen=True, slots=True)
class Coverage:
    """Number of intervals that held the truth, and how far figures lay from it; by sand, silt and clay."""

    runs: int
    held: SandSiltClay[int]
    mean_error_pct: SandSiltClay[float]
    """Figure less truth, mean over runs. [%]"""

    @property
    def held_pct(self) -> SandSiltClay[float]:
        """Share of the runs whose interval held the truth. [%]"""
        return SandSiltClay(*(100.0 * n / self.runs for n in self.held))


def measure_coverage(
    method: MethodEdition,
    soil: Soils,
    *,
    runs: int,
    draws: int,
    seed: int,
    sieved: bool = False,
    portion_g: float = 40.0,
    computed_by: MethodEdition | None = None,
    apart: Apart | None = None,
) -> Coverage:
    """
    Coverage over invented soils; a soil the readings cannot reach is an error, not left out.

    Parameters
    ----------
    method : edition that makes the errors.
    computed_by : edition that makes the intervals; the same unless given.
    apart : how far from the readings the blank is read, all its readings serving; None: beside each of them.
    """
    random = np.random.Generator(np.random.PCG64(seed))
    held, errors = np.zeros(3, dtype=int), np.zeros(3)
    for _ in range(runs):
        drawn = soil(random)
        record = observed_run(drawn, method, random, sieved=sieved, portion_g=portion_g, apart=apart)
        # What the sample holds is what this run held, less how far this run lay from the sample.
        sand = drawn.sand_pct + method.dispersion_sd_pct * random.standard_normal()
        clay = drawn.clay_pct + method.dispersion_sd_pct * random.standard_normal()
        fractions = compute_distribution(record, computed_by or method, draws=draws).fractions
        assert fractions is not None, "the schedule does not reach a size limit"
        truths = with_silt_between(sand, clay)
        for k, (part, truth) in enumerate(zip(fractions.estimates, truths, strict=True)):
            assert part.low_pct is not None
            assert part.high_pct is not None
            held[k] += part.low_pct <= truth <= part.high_pct
            errors[k] += part.value_pct - truth
    return Coverage(runs, SandSiltClay(*held.tolist()), SandSiltClay(*(errors / runs).tolist()))
