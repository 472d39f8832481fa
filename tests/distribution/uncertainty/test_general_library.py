"""The draws against the same model written a second time, and against a general-purpose library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from particles.benchmarks.general_library import (
    core_sample,
    installed,
    library_sample,
    point_function,
    result_of,
    run_model,
    sample_function,
)
from particles.benchmarks.one_run import SHARED, input_count, one_run
from particles.distribution import Fractions, RunRecord
from particles.distribution.inputs.between_run import BetweenRunSds
from tests.distribution.uncertainty.test_covariance import clay_loam
from tests.support.runs import NINE, figures, good_run, with_values

DRAWS = 20_000
FLAT = with_values(40.0, 39.5, 39.0, 38.5, 38.5, 38.0, 38.0, 38.0, 37.5)
SANDY = with_values(12.0, 9.0, 7.5, 6.5, 6.5, 6.0, 6.0, 6.0, 5.5)
RUNS = pytest.mark.parametrize(
    "record", [good_run(), clay_loam(), FLAT, SANDY], ids=["loam", "clay loam", "flat", "sandy"]
)


@RUNS
def test_draw_by_draw_the_exact_model_says_the_same(record: RunRecord) -> None:
    """One by one, with the settling integrals instead of first order in the logarithm."""
    model = run_model(record, NINE)
    by = model.variates(400, seed=8)
    drawn = np.stack(
        model.run(by, NINE.uncertainties, BetweenRunSds(*[NINE.dispersion_sd_pct] * 2)).sand_silt_clay()
    )
    errors = np.concatenate([by.normal[: len(SHARED)], by.reading, by.blank, by.division])
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
    method = replace(NINE, uncertainties=replace(NINE.uncertainties, reading_off_bias=0.0))
    assert one_run(good_run(), method)([0.0] * sum(input_count(good_run()))) == pytest.approx(wanted)


@RUNS
@pytest.mark.parametrize("build", [point_function, sample_function], ids=["by point", "by sample"])
def test_openturns_finds_the_same_doubt(
    record: RunRecord, build: Callable[..., object], require: Callable[[str, bool], None]
) -> None:
    """OpenTURNS draws on its own stream, propagates and sums up; only Monte Carlo error lies between."""
    require("openturns", installed())
    draws = 5_000 if build is point_function else DRAWS
    library = result_of(build(record, NINE), library_sample(record, draws, seed=1))
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
    model = run_model(record, NINE)
    runs = model.run(
        model.variates(DRAWS, seed=2), NINE.uncertainties, BetweenRunSds(*[NINE.dispersion_sd_pct] * 2)
    )
    return np.stack(runs.sand_silt_clay()).mean(axis=1)


@RUNS
def test_on_the_same_draws_openturns_says_the_same(
    record: RunRecord, require: Callable[[str, bool], None]
) -> None:
    """No Monte Carlo error is left: only the first order of depth, time and warmth lies between."""
    require("openturns", installed())
    library = result_of(point_function(record, NINE), core_sample(record, NINE, 5_000, seed=4))
    answer = figures(record, draws=5_000, seed=4).fractions
    assert answer is not None
    drawn = answer.sand, answer.silt, answer.clay
    spreads = [part.standard_uncertainty_pct for part in drawn]
    assert spreads == pytest.approx(library.standard_deviation_pct, rel=0.005)
    assert [part.low_pct for part in drawn] == pytest.approx(library.low_pct, abs=0.03)
    assert [part.high_pct for part in drawn] == pytest.approx(library.high_pct, abs=0.03)


def test_a_wrong_model_would_be_seen() -> None:
    """Half the error of each blank moves the spread by more than the tolerance above."""
    less = replace(NINE, uncertainties=replace(NINE.uncertainties, blank_reading_g_l=0.175))
    here, there = (
        figures(good_run(), method=method, draws=DRAWS, seed=2).fractions for method in (NINE, less)
    )
    assert here is not None
    assert there is not None
    assert here.clay.standard_uncertainty_pct is not None
    assert there.clay.standard_uncertainty_pct is not None
    apart = here.clay.standard_uncertainty_pct - there.clay.standard_uncertainty_pct
    assert apart > 4.0 * here.clay.standard_uncertainty_pct * (1.0 / DRAWS) ** 0.5
