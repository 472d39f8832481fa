"""
What the next reading of a cylinder may be, from its readings so far: asked about at entry, never refused.

*Common practice*, for planning only: no figure of a result rests on it. Some hundreds of invented soils, spread over
the whole texture triangle, settle by the core's own functions. The band is where the soils lie that fit the readings
so far, each weighted by how well it fits. `batches/static/batches/bench/expected.js` is the same on the tablet.

Of wrong values that are 2.5 g/L off or more 64 % lie outside, with 0.9 false questions in 100 readings (usual invented
soils; `tests.support.asked_at_entry`). The aim of 90 % is missed: a first reading of an unknown soil may be anything
from none to all of the portion, and a number that fits the wrong cylinder may fit this one too. A scan of the cylinder
at the reading is what would catch those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import erf, log, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from particles.distribution.record import DepthLine, Hydrometer, HydrometerScale
from particles.distribution.settling.hydrometer import concentration_factor, effective_depth_cm
from particles.distribution.settling.stokes import settling_diameter_um
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s

SOILS = 800
"""As many as weigh 14 kB on the tablet; fewer leave gaps between them and ask falsely."""
SEED = 20261127
PLANNED_G_L = 50.0
"""Portion in a litre that the invented soils hang as; it moves the depth of a reading. *Common practice*. [g/L]"""
PLANNED_BLANK_G_L = 3.5
"""Usual blank at the upper edge of the meniscus; *common practice*. [g/L]"""
PLANNED_C = 21.0
"""A room's usual temperature; *common practice*. [C]"""
PLANNED_DISPERSANT_G_L = 5.0
"""*Common practice*. [g/L]"""
DENSITY_G_CM3 = 2.65
"""Of the invented soils; *common practice*. [g/cm³]"""
STEM = Hydrometer("planned", HydrometerScale.GRAMS_PER_LITRE, DepthLine(16.3, 0.164), 1.0, 0.0)
"""A stem as most are; *common practice*."""

NOISE_STEPS = 1.0
"""Standard deviation of a reading less its blank. *Common practice*. [scale steps]"""
TAIL = 0.004
"""Weight of the soils beyond either end of the band. [-]"""
WIDER_STEPS = 2.5
"""The band goes on beyond those soils, for the reading's and the blank's noise. [scale steps]"""
FEWEST_SOILS = 6.0
"""Effective number of soils that must fit; else readings are taken as noisier until so many do."""
NOISIER = 1.5
MOST_NOISIER = 12
"""Times that the noise is taken as `NOISIER` times larger, at most."""


@dataclass(frozen=True, slots=True)
class ExpectedBand:
    """Lowest and highest reading less blank that is not asked about, in the unit of the stem."""

    low: float
    high: float


@cache
def shares_of(schedule_s: tuple[float, ...]) -> tuple[tuple[int, ...], ...]:
    """
    Share of the portion still in suspension at the bulb, for each invented soil and time. [thousandths]

    Parameters
    ----------
    schedule_s : (n,) nominal times, rising. [s]

    Returns
    -------
    (SOILS, n) whole numbers, the same in every process.
    """
    random = np.random.default_rng(SEED)
    soils = [_invented(random) for _ in range(SOILS)]
    return tuple(tuple(round(1000.0 * _share(soil, s)) for s in schedule_s) for soil in soils)


@cache
def told_to_tablet(schedule_s: tuple[float, ...]) -> dict[str, Any]:
    """The soils and what the band is made by, as `expected.js` takes them; two characters of base 36 a share."""
    digits = "0123456789abcdefghijklmnopqrstuvwxyz"
    return {
        "shares": "".join(digits[s // 36] + digits[s % 36] for soil in shares_of(schedule_s) for s in soil),
        "noise_steps": NOISE_STEPS,
        "tail": TAIL,
        "wider_steps": WIDER_STEPS,
        "fewest_soils": FEWEST_SOILS,
        "noisier": NOISIER,
        "most_noisier": MOST_NOISIER,
        "usual_blank_g_l": PLANNED_BLANK_G_L,
    }


Heaps = tuple[tuple[float, float, float], ...]
"""(share, median [µm], standard deviation of ln d) of log-normal heaps."""


def _invented(random: np.random.Generator) -> Heaps:
    """A soil anywhere in the triangle; one in five is a narrow heap of silt or fine sand beside some clay."""
    if random.random() < 0.2:
        clay = random.uniform(0.02, 0.4)
        narrow = (1.0 - clay, float(np.exp(random.uniform(log(10.0), log(90.0)))), random.uniform(0.3, 0.9))
        return narrow, (clay, random.uniform(0.2, 1.6), random.uniform(0.6, 1.5))
    sand, silt, clay = random.dirichlet((0.5, 0.5, 0.5))
    return (
        (sand, float(np.exp(random.uniform(log(70.0), log(700.0)))), random.uniform(0.25, 1.0)),
        (silt, float(np.exp(random.uniform(log(4.0), log(45.0)))), random.uniform(0.4, 1.2)),
        (clay, float(np.exp(random.uniform(log(0.1), log(1.4)))), random.uniform(0.5, 1.5)),
    )


def _share(soil: Heaps, elapsed_s: float) -> float:
    """Share finer than what is still there; reading and depth settle on each other in a few rounds. [-]"""
    viscosity = solution_viscosity_mpa_s(PLANNED_C, PLANNED_DISPERSANT_G_L)
    excess = DENSITY_G_CM3 - solution_density_g_cm3(PLANNED_C, PLANNED_DISPERSANT_G_L)
    share = 0.5
    for _ in range(8):
        depth_cm = effective_depth_cm(STEM, PLANNED_BLANK_G_L + share * PLANNED_G_L)
        share = _finer(soil, settling_diameter_um(depth_cm, elapsed_s, viscosity, excess))
    return share


def _finer(soil: Heaps, size_um: float) -> float:
    return sum(
        share * 0.5 * (1.0 + erf(log(size_um / um) / (width * sqrt(2.0)))) for share, um, width in soil
    )


def whole_reading(scale: HydrometerScale, air_dry_g: float, volume_ml: float) -> float:
    """
    What a whole portion adds to a reading, in the unit of the stem: 50 g in a litre 50 g/L, or 0.0311 of density.

    Rounded to whole g/L of soil, which is near enough to plan by and tells no two portions apart.
    """
    soil_g_l = float(round(air_dry_g * 1000.0 / volume_ml))
    net = soil_g_l / concentration_factor(scale, DENSITY_G_CM3)
    return net if scale is HydrometerScale.GRAMS_PER_LITRE else net / 1000.0


def expected_band(
    schedule_s: tuple[float, ...],
    whole: float,
    step: float,
    before: Sequence[tuple[float, float]],
    elapsed_s: float,
) -> ExpectedBand:
    """
    Band of the next reading less its blank.

    Parameters
    ----------
    whole : what the whole portion adds to a reading, above zero, in the unit of the stem.
    step : of the scale, in the same unit.
    before : (elapsed [s], reading less blank) of the cylinder's readings so far, in any order.
    elapsed_s : when the next one is taken. [s]
    """
    table = np.array(shares_of(schedule_s), dtype=np.float64) / 1000.0
    misfit = np.zeros(len(table))
    for at_s, net in before:
        misfit += ((net - whole * _shares_at(table, schedule_s, at_s)) / (NOISE_STEPS * step)) ** 2
    weights = _weights(misfit)
    there = whole * _shares_at(table, schedule_s, elapsed_s)
    order = np.argsort(there, kind="stable")
    values, rising = there[order], weights[order]
    middles = (np.cumsum(rising) - rising / 2.0) / rising.sum()
    tail = TAIL if before else 0.0  # nothing is known of a first reading but that some soil may give it
    low, high = (float(np.interp(p, middles, values)) for p in (tail, 1.0 - tail))
    return ExpectedBand(low - WIDER_STEPS * step, high + WIDER_STEPS * step)


def _weights(misfit: NDArray[np.float64]) -> NDArray[np.float64]:
    """exp(-misfit / 2) with the best soil at 1, the noise taken larger until enough soils count."""
    over = misfit - misfit.min()
    variance = 1.0
    for _ in range(MOST_NOISIER):
        weights: NDArray[np.float64] = np.exp(-0.5 * over / variance)
        if weights.sum() ** 2 / (weights**2).sum() >= FEWEST_SOILS:
            break
        variance *= NOISIER**2
    return weights


def _shares_at(table: NDArray[Any], schedule_s: tuple[float, ...], elapsed_s: float) -> NDArray[np.float64]:
    """Shares at a time, straight in log time between those of the schedule and held at its ends. [-]"""
    inside_s = min(max(elapsed_s, schedule_s[0]), schedule_s[-1])
    k = min(int(np.searchsorted(schedule_s, inside_s, side="right")) - 1, len(schedule_s) - 2)
    if k < 0:
        return np.asarray(table[:, 0])
    part = log(inside_s / schedule_s[k]) / log(schedule_s[k + 1] / schedule_s[k])
    return np.asarray(table[:, k] + part * (table[:, k + 1] - table[:, k]))
