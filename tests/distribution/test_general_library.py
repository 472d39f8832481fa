"""The draws against the same model written a second time, and against a general-purpose library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from particles.benchmarks.general_library import answer_of, installed, point_function, sample_function
from particles.benchmarks.one_run import SHARED, input_count, one_run
from particles.distribution import Fractions, RunRecord
from particles.distribution.draws import RunModel, random_of
from particles.distribution.points import size_points, smoothed
from particles.distribution.portion import portion_mass

from .runs import NINE, figures, good_run, with_values
from .test_covariance import clay_loam

DRAWS = 20_000
FLAT = with_values(40.0, 39.5, 39.0, 38.5, 38.5, 38.0, 38.0, 38.0, 37.5)
SANDY = with_values(12.0, 9.0, 7.5, 6.5, 6.5, 6.0, 6.0, 6.0, 5.5)
RUNS = pytest.mark.parametrize(
    "record", [good_run(), clay_loam(), FLAT, SANDY], ids=["loam", "clay loam", "flat", "sandy"]
)


@RUNS
def test_draw_by_draw_the_exact_model_says_the_same(record: RunRecord) -> None:
    """One by one, with the settling integrals instead of first order in the logarithm."""
    mass = portion_mass(record)
    assert mass is not None
    model = RunModel(record, NINE, smoothed(size_points(record, NINE, mass.mass_g)), mass)
    by = model.variates(400).draw(random_of(8))
    drawn = np.stack(model.run(by, NINE.uncertainties, NINE.dispersion_sd_pct).sand_silt_clay())
    errors = np.concatenate([by.normal[: len(SHARED)], by.reading, by.division])
    function = one_run(record, NINE)
    exact = np.array([function(column.tolist()) for column in errors.T]).T
    # The first order leaves at most a few hundredths of a point where the curve is steep at the limit.
    assert np.abs(drawn - exact).max() < 0.1
    assert (drawn - exact).mean(axis=1) == pytest.approx([0.0] * 3, abs=0.01)
    assert drawn.std(axis=1) == pytest.approx(exact.std(axis=1), rel=0.005)


def test_the_exact_model_without_errors_is_the_run_itself() -> None:
    answer = figures(good_run()).fractions
    assert answer is not None
    wanted = [answer.sand.value_pct, answer.silt.value_pct, answer.clay.value_pct]
    assert one_run(good_run(), NINE)([0.0] * sum(input_count(good_run()))) == pytest.approx(wanted)


@RUNS
@pytest.mark.parametrize("build", [point_function, sample_function], ids=["by point", "by sample"])
def test_openturns_finds_the_same_doubt(
    record: RunRecord, build: Callable[..., object], require: Callable[[str, bool], None]
) -> None:
    """OpenTURNS draws on its own stream, propagates and sums up; only Monte Carlo error lies between."""
    require("openturns", installed())
    draws = 5_000 if build is point_function else DRAWS
    library = answer_of(build(record, NINE), record, draws, seed=1)
    drawn = _drawn(record)
    spreads = np.array([part.standard_uncertainty_pct for part in drawn])
    means, ends = _mean(record), np.array([(part.low_pct, part.high_pct) for part in drawn])
    share = 1.0 / draws + 1.0 / DRAWS
    # Four standard deviations of the difference of two means, two spreads, two 2.5 % quantiles of a normal.
    assert np.all(np.abs(means - library.mean_pct) < 4.0 * spreads * share**0.5)
    assert np.all(np.abs(spreads - library.standard_deviation_pct) < 4.0 * spreads * (share / 2.0) ** 0.5)
    at_end = 4.0 * spreads * (0.025 * 0.975 * share) ** 0.5 / 0.0584
    assert np.all(np.abs(ends[:, 0] - library.low_pct) < at_end)
    assert np.all(np.abs(ends[:, 1] - library.high_pct) < at_end)


def _drawn(record: RunRecord) -> tuple[object, ...]:
    answer = figures(record, draws=DRAWS, seed=2).fractions
    assert isinstance(answer, Fractions)
    return answer.sand, answer.silt, answer.clay


def _mean(record: RunRecord) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    mass = portion_mass(record)
    assert mass is not None
    model = RunModel(record, NINE, smoothed(size_points(record, NINE, mass.mass_g)), mass)
    chunks = [
        np.stack(runs.sand_silt_clay()) for runs in model.runs(DRAWS, random_of(2), NINE.dispersion_sd_pct)
    ]
    return np.concatenate(chunks, axis=1).mean(axis=1)


def test_a_wrong_model_would_be_seen() -> None:
    """Half the blank's error moves the spread by more than the tolerance above."""
    less = replace(NINE, uncertainties=replace(NINE.uncertainties, blank_g_l=0.15))
    here, there = (
        figures(good_run(), method=method, draws=DRAWS, seed=2).fractions for method in (NINE, less)
    )
    assert here is not None
    assert there is not None
    assert here.clay.standard_uncertainty_pct is not None
    assert there.clay.standard_uncertainty_pct is not None
    apart = here.clay.standard_uncertainty_pct - there.clay.standard_uncertainty_pct
    assert apart > 4.0 * here.clay.standard_uncertainty_pct * (1.0 / DRAWS) ** 0.5
