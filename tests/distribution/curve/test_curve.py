"""Smoothing and reading off, against scipy and numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from particles.distribution import CurvePoint, grading
from particles.distribution.curve.reading_off import diameter_at_um, non_rising, percent_finer_at
from particles.distribution.uncertainty.drawn_curve import non_rising_draws

PERCENTS = st.lists(st.floats(-20, 120), min_size=1, max_size=15)
DIAMETERS = [60.0, 43.0, 26.0, 15.0, 8.8, 6.3, 1.4]
FINER = [88.0, 78.0, 66.0, 54.0, 41.0, 35.0, 19.0]


@given(PERCENTS)
def test_smoothing_agrees_with_scipy(percents: list[float]) -> None:
    assert non_rising(percents) == pytest.approx(isotonic_regression(percents, increasing=False).x, abs=1e-9)


@given(st.lists(st.lists(st.floats(-20, 120), min_size=9, max_size=9), min_size=1, max_size=6))
def test_smoothing_of_draws_agrees_with_scipy(draws: list[list[float]]) -> None:
    fitted = non_rising_draws(np.array(draws).T)
    for column, draw in zip(fitted.T, draws, strict=True):
        assert column == pytest.approx(isotonic_regression(draw, increasing=False).x, abs=1e-9)


def test_parts_fitted_apart_are_fitted_on_where_they_meet() -> None:
    """A thousand draws of a steep and a flat part, of which a few rise from one to the other."""
    random = np.random.default_rng(6)
    draws = np.array([80.0, 79.0, 60.0, 59.0, 58.5, 30.0])[:, np.newaxis] + random.standard_normal((6, 1000))
    draws[2, :4] += 25.0
    draws[5, 2:6] += 40.0
    fitted = non_rising_draws(draws.copy())
    for column, draw in zip(fitted.T, draws.T, strict=True):
        assert column == pytest.approx(isotonic_regression(draw, increasing=False).x, abs=1e-9)


@given(st.floats(1.4, 60.0))
def test_reading_off_agrees_with_numpy(limit_um: float) -> None:
    read = percent_finer_at(DIAMETERS, FINER, limit_um)
    assert read is not None
    expected = np.interp(np.log(limit_um), np.log(DIAMETERS[::-1]), FINER[::-1])
    assert read.percent == pytest.approx(float(expected))
    assert read.extrapolated_factor == 1.0


def test_extension_follows_the_last_two_points() -> None:
    read = percent_finer_at(DIAMETERS, FINER, 1.2)
    assert read is not None
    slope = (35.0 - 19.0) / np.log(6.3 / 1.4)
    assert read.percent == pytest.approx(19.0 + slope * np.log(1.2 / 1.4))
    assert read.extrapolated_factor == pytest.approx(1.4 / 1.2)


@pytest.mark.parametrize("limit_um", [1.07, 78.1])
def test_nothing_beyond_a_factor_of_1_3(limit_um: float) -> None:
    assert percent_finer_at(DIAMETERS, FINER, limit_um) is None


def test_one_point_is_no_curve() -> None:
    assert percent_finer_at([2.0], [20.0], 2.0) is None


def test_grading_reads_back_what_the_curve_says() -> None:
    curve = [CurvePoint(d, p, "sieve") for d, p in zip(DIAMETERS, FINER, strict=True)]
    read = grading(curve)
    assert read.d10_um is None
    assert read.uniformity is None
    assert read.d50_um is not None
    at = percent_finer_at(DIAMETERS, FINER, read.d50_um)
    assert at is not None
    assert at.percent == pytest.approx(50.0)
    assert diameter_at_um(curve, 41.0) == pytest.approx(8.8)
