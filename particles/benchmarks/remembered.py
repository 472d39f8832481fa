"""
Effect of values taken from memory: an invented loam computed with each and with another plausible one.

`python -m particles.benchmarks.remembered` prints by how many points sand, silt and clay move.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import log
from unittest.mock import patch

import numpy as np

from particles.distribution import (
    METHOD_EDITIONS,
    DepthLine,
    MethodEdition,
    RunRecord,
    compute_distribution,
)
from particles.distribution.settling import water
from particles.distribution.triple import SandSiltClay

from .coverage import Soil, observed_run
from .reading_off import NO_ERRORS

METHOD = METHOD_EDITIONS["hydrometer-nine-2026-4"]
SAND_PCT, CLAY_PCT = 40.0, 22.0
BLANK_COLDER_C = 2.0
BOROSILICATE_PER_C = 10e-6


def loam() -> RunRecord:
    """40 g of a loam of 40 % sand and 22 % clay, straight in log diameter, read without any error; invented."""
    slope = (100.0 - SAND_PCT - CLAY_PCT) / log(25.0)
    soil = Soil(SAND_PCT, CLAY_PCT, lambda um: CLAY_PCT + slope * log(um / 2.0))
    exact = replace(METHOD, uncertainties=NO_ERRORS)
    return observed_run(soil, exact, np.random.Generator(np.random.PCG64(1)), sieved=False)


def figures_pct(record: RunRecord, method: MethodEdition = METHOD) -> SandSiltClay[float]:
    """Sand, silt and clay of a run. [%]"""
    fractions = compute_distribution(record, method, draws=0).fractions
    assert fractions is not None, "the loam can be computed"
    return fractions.percents


def _deeper(record: RunRecord, by_cm: float) -> RunRecord:
    line = record.hydrometer.depth
    assert isinstance(line, DepthLine)
    moved = DepthLine(line.intercept_cm + by_cm, line.slope_cm_per_unit)
    return replace(record, hydrometer=replace(record.hydrometer, depth=moved))


def _blank_colder(record: RunRecord) -> RunRecord:
    readings = tuple(replace(p, blank_temperature_c=p.at_c - BLANK_COLDER_C) for p in record.readings)
    return replace(record, readings=readings)


def _borosilicate(record: RunRecord) -> SandSiltClay[float]:
    with patch.object(water, "GLASS_EXPANSION_PER_C", BOROSILICATE_PER_C):
        return figures_pct(_blank_colder(record))


@dataclass(frozen=True, slots=True)
class Remembered:
    """A value from memory and what stands in its place."""

    what: str
    here: Callable[[RunRecord], SandSiltClay[float]]
    instead: Callable[[RunRecord], SandSiltClay[float]]


REMEMBERED = (
    Remembered(
        "hexametaphosphate at 5 g/L: density and viscosity factors 0.630 and 4.25 per g/mL, or plain water",
        figures_pct,
        lambda record: figures_pct(replace(record, dispersant_g_l=0.0)),
    ),
    Remembered(
        "bulb 14.0 cm long in the customary depth line, or 13.5 cm",
        figures_pct,
        lambda record: figures_pct(_deeper(record, -0.25)),
    ),
    Remembered(
        "depth less the insertion term at all readings, or with it at 30 and 60 s (hydrometer still in)",
        figures_pct,
        lambda record: figures_pct(record, replace(METHOD, still_inserted_until_s=60.0)),
    ),
    Remembered(
        f"glass 25e-6 per °C, or borosilicate 10e-6, blank {BLANK_COLDER_C:g} °C colder",
        lambda record: figures_pct(_blank_colder(record)),
        _borosilicate,
    ),
    Remembered(
        "meniscus 0.5 g/L, or 1.0 g/L",
        figures_pct,
        lambda record: figures_pct(
            replace(record, hydrometer=replace(record.hydrometer, meniscus_correction=1.0))
        ),
    ),
)


def effects() -> Iterator[tuple[str, SandSiltClay[float]]]:
    """Values from memory, each with the change of sand, silt and clay when another one stands in its place. [points]"""
    record = loam()
    for each in REMEMBERED:
        here, instead = each.here(record), each.instead(record)
        yield each.what, SandSiltClay(*(b - a for a, b in zip(here, instead, strict=True)))


if __name__ == "__main__":
    print(
        f"points of  {'sand':>6} {'silt':>6} {'clay':>6}   of a loam of {SAND_PCT:g} % sand, {CLAY_PCT:g} % clay"
    )
    for what, moved in effects():
        print(f"{'':<10} {' '.join(f'{points:+6.2f}' for points in moved)}   {what}")
