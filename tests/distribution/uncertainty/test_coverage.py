"""
95 % intervals hold the truth of simulated soils as often as they say.

A smaller count than `manage.py benchmark_distribution --coverage`, with the tolerance its number of runs allows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from particles.benchmarks.coverage import (
    Apart,
    Soils,
    hidden_soil,
    loess_soil,
    measure_coverage,
    observed_run,
    smooth_soil,
    straight_soil,
    triangle_soil,
)
from particles.distribution import METHOD_EDITIONS, MethodEdition, SandSiltClay
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, figures

FOUR = METHOD_EDITIONS["hydrometer-four-2026-4"]
EIGHT = METHOD_EDITIONS["hydrometer-standard-eight-2026-4"]
TEN = METHOD_EDITIONS["hydrometer-ten-2026-4"]
RUNS = 500
CHANCE_OF_FALSE_ALARM = 1e-4


@pytest.mark.parametrize(
    ("method", "soil", "sieved"),
    [
        (NINE, smooth_soil, False),
        (NINE, smooth_soil, True),
        (TEN, smooth_soil, False),
        (NINE, triangle_soil, False),
        (FOUR, triangle_soil, True),
        (NINE, straight_soil, False),
        (NINE, straight_soil, True),
        (NINE, loess_soil, True),
        (EIGHT, loess_soil, True),
    ],
    ids=[
        "hydrometer",
        "sieve",
        "read at 8 h",
        "triangle",
        "triangle, four",
        "straight",
        "straight, sieve",
        "loess, sieve",
        "loess, sieve, read from 1 min",
    ],
)
def test_intervals_hold_the_truth(method: MethodEdition, soil: Soils, sieved: bool) -> None:
    found = measure_coverage(method, soil, runs=RUNS, draws=2000, seed=5, sieved=sieved)
    low = binom.ppf(CHANCE_OF_FALSE_ALARM / 2, RUNS, 0.95)
    high = binom.isf(CHANCE_OF_FALSE_ALARM / 2, RUNS, 0.95)
    for name, held in zip(SandSiltClay._fields, found.held, strict=True):
        assert low <= held <= high, name


@pytest.mark.parametrize(
    ("soil", "sieved", "apart"),
    [
        (straight_soil, False, Apart(3600.0, 0.5)),
        (straight_soil, False, Apart(3600.0, 2.0)),
        (triangle_soil, True, Apart(0.0, 1.0, (60.0, 7200.0, 86_400.0))),
    ],
    ids=["an hour, 0.5 °C", "an hour, 2 °C", "three times only, 1 °C"],
)
def test_intervals_hold_beside_a_blank_read_at_another_time_and_temperature(
    soil: Soils, sieved: bool, apart: Apart
) -> None:
    """Its level wanders, its slope with temperature is off, its thermometer and its stem are misread."""
    found = measure_coverage(NINE, soil, runs=RUNS, draws=2000, seed=13, sieved=sieved, apart=apart)
    low = binom.ppf(CHANCE_OF_FALSE_ALARM / 2, RUNS, 0.95)
    high = binom.isf(CHANCE_OF_FALSE_ALARM / 2, RUNS, 0.95)
    for name, held in zip(SandSiltClay._fields, found.held, strict=True):
        assert low <= held <= high, name


def test_a_blank_read_anew_at_every_slot_is_doubted_at_every_slot() -> None:
    """The same runs of 20 g, computed as if one blank had served them all: silt is then held too seldom."""
    once = replace(NINE.uncertainties, blank_g_l=0.3, blank_reading_g_l=0.0)
    honest, blind = (
        measure_coverage(
            NINE, straight_soil, runs=RUNS, draws=1000, seed=8, portion_g=20.0, computed_by=method
        )
        for method in (NINE, replace(NINE, uncertainties=once))
    )
    assert honest.held_pct[1] > 93.0
    assert blind.held_pct[1] < 92.0


def test_a_narrow_heap_between_2_h_and_24_h_is_held_only_with_a_reading_between() -> None:
    """What the notes of a result by nine readings say."""
    nine, ten = (
        measure_coverage(method, hidden_soil, runs=300, draws=1000, seed=10) for method in (NINE, TEN)
    )
    assert nine.held_pct[2] < 75.0
    assert ten.held_pct[2] > 88.0
    record = observed_run(hidden_soil(np.random.default_rng(1)), NINE, np.random.default_rng(1), sieved=False)
    said = [any("narrow heap" in note for note in figures(record).notes)]
    record = observed_run(hidden_soil(np.random.default_rng(1)), TEN, np.random.default_rng(1), sieved=False)
    said.append(any("narrow heap" in note for note in figures(record, method=TEN).notes))
    assert said == [True, False]


def test_without_reading_off_bent_curves_hold_less_often() -> None:
    """The input does something: the same runs, computed as if reading off were exact."""
    exact = replace(
        NINE, uncertainties=replace(NINE.uncertainties, reading_off_share=0.0, reading_off_bias=0.0)
    )
    honest, blind = (
        measure_coverage(NINE, triangle_soil, runs=RUNS, draws=500, seed=8, computed_by=method)
        for method in (NINE, exact)
    )
    assert blind.held[2] < honest.held[2] - 5


@pytest.mark.parametrize(
    ("method", "least", "most"), [(NINE, 0.4, 0.7), (TEN, 0.0, 0.15)], ids=["nine", "ten"]
)
def test_reading_off_a_bent_curve_costs_what_the_simulation_says(
    method: MethodEdition, least: float, most: float
) -> None:
    """Runs without any error: what is left is reading off straight between two readings, far apart or near."""
    exact = replace(method, uncertainties=replace(EXACT, scale_division_g_l=1e-6))
    random = np.random.Generator(np.random.PCG64(3))
    errors = []
    for _ in range(200):
        soil = smooth_soil(random)
        answer = figures(observed_run(soil, exact, random, sieved=False), method=method).fractions
        assert answer is not None
        errors.append(answer.clay.value_pct - soil.clay_pct)
    assert least < np.std(errors) < most


def test_figures_are_right_on_average() -> None:
    found = measure_coverage(NINE, straight_soil, runs=RUNS, draws=100, seed=6)
    assert len(found.mean_error_pct) == 3
    for error in found.mean_error_pct:
        # Four standard deviations of the mean of errors of about 2.4 points.
        assert abs(error) < 4 * 2.4 / RUNS**0.5


def test_a_forgotten_spread_between_runs_is_found_out() -> None:
    """The count must be able to fail: intervals of an edition that leaves the largest input out hold too seldom."""
    soil_spread = replace(NINE, dispersion_sd_pct=0.0)
    honest = measure_coverage(NINE, straight_soil, runs=200, draws=200, seed=7)
    blind = measure_coverage(NINE, straight_soil, runs=200, draws=200, seed=7, computed_by=soil_spread)
    assert max(blind.held) < min(honest.held)
    assert max(blind.held_pct) < 85.0
