"""Reading off between the points: straight, or by a monotone cubic checked against scipy."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from particles.distribution import CurvePoint, Interpolation, grading, percent_finer_at_size
from particles.distribution.curve.interpolation import read_between
from particles.distribution.curve.reading_off import diameter_at_um, percent_finer_at
from particles.distribution.uncertainty.drawn_curve import read_off_draws
from tests.support.runs import NINE, figures, good_run

CUBIC, STRAIGHT = Interpolation.MONOTONE_CUBIC, Interpolation.STRAIGHT
SIZES = (60.0, 44.0, 27.0, 15.0, 9.0, 6.4, 5.2, 4.5, 1.3)
PERCENTS = (88.75, 78.75, 66.25, 53.75, 41.25, 35.0, 35.0, 30.0, 18.75)
CURVE = tuple(CurvePoint(d, p, "hydrometer") for d, p in zip(SIZES, PERCENTS, strict=True))


def _scipy(sizes: tuple[float, ...], percents: tuple[float, ...], at_um: np.ndarray) -> np.ndarray:
    x = np.log(np.array(sizes[::-1]))
    return np.asarray(PchipInterpolator(x, np.array(percents[::-1]))(np.log(at_um)))


def test_cubic_is_that_of_scipy() -> None:
    at_um = np.geomspace(1.3, 60.0, 301)
    ours = [read_between(SIZES, PERCENTS, min(max(float(d), 1.3), 60.0), CUBIC) for d in at_um]
    assert np.array(ours) == pytest.approx(_scipy(SIZES, PERCENTS, at_um), abs=1e-9)


@given(
    st.lists(st.floats(0.05, 1.5), min_size=2, max_size=9),
    st.lists(st.floats(-5.0, 40.0), min_size=10, max_size=10),
    st.floats(0.0, 1.0),
)
def test_cubic_is_that_of_scipy_whatever_the_curve(
    steps: list[float], rises: list[float], share: float
) -> None:
    sizes = tuple(float(d) for d in 100.0 * np.exp(-np.cumsum([0.0, *steps])))
    percents = tuple(100.0 - float(p) for p in np.cumsum(rises[: len(sizes)]))
    at_um = sizes[-1] * (sizes[0] / sizes[-1]) ** share
    at_um = min(max(at_um, sizes[-1]), sizes[0])
    expected = _scipy(sizes, percents, np.array([at_um]))[0]
    assert read_between(sizes, percents, at_um, CUBIC) == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize("back", [0.5, 2.0, 2.8, 3.2, 4.0, 8.0])
def test_an_end_is_never_steeper_than_three_times_its_chord(back: float) -> None:
    """One step up and `back` times as far down: the slope at the end would be (3 + back) / 2 chords, cut at 3."""
    sizes = (exp(2.0), exp(1.0), exp(0.0))
    percents = (50.0, 60.0, 60.0 - 10.0 * back)
    at_um = np.exp(np.array([0.3, 1.4, 1.8]))
    expected = _scipy(sizes, percents, at_um)
    assert [read_between(sizes, percents, float(um), CUBIC) for um in at_um] == pytest.approx(
        expected, abs=1e-9
    )
    log_d, drawn = np.log(np.array([sizes] * 3).T), np.array([percents] * 3).T
    assert read_off_draws(log_d, drawn, np.log(at_um), CUBIC) == pytest.approx(expected, abs=1e-9)


def test_two_points_are_joined_straight_by_either_rule() -> None:
    assert read_between((20.0, 2.0), (60.0, 20.0), 6.0, CUBIC) == pytest.approx(
        read_between((20.0, 2.0), (60.0, 20.0), 6.0, STRAIGHT)
    )


def test_beyond_the_points_both_rules_extend_the_last_line() -> None:
    straight = percent_finer_at(SIZES, PERCENTS, 1.1)
    cubic = percent_finer_at(SIZES, PERCENTS, 1.1, CUBIC)
    assert straight == cubic
    assert straight is not None
    assert straight.percent == pytest.approx(18.75 - 11.25 * log(1.3 / 1.1) / log(4.5 / 1.3))


def test_any_size_inside_the_data_and_none_beyond() -> None:
    read = percent_finer_at_size(CURVE, (2.0, 60.0, 61.0, 1.3, 1.2, 44.0))
    assert read[0] == pytest.approx(18.75 + 11.25 * log(2.0 / 1.3) / log(4.5 / 1.3))
    assert read[1:] == (88.75, None, 18.75, None, pytest.approx(78.75))
    assert percent_finer_at_size(CURVE[:1], (60.0,)) == (None,)
    answer = figures(good_run())
    assert percent_finer_at_size(answer, (2.0,)) == percent_finer_at_size(answer.curve, (2.0,))


@pytest.mark.parametrize("rule", list(Interpolation))
@pytest.mark.parametrize("percent", [20.0, 34.0, 35.0, 50.0, 60.0, 84.0])
def test_diameter_at_a_percent_is_the_way_back(rule: Interpolation, percent: float) -> None:
    size_um = diameter_at_um(CURVE, percent, rule)
    assert size_um is not None
    assert percent_finer_at_size(CURVE, (size_um,), rule)[0] == pytest.approx(percent, abs=1e-9)


def test_grading_with_the_further_diameters() -> None:
    answer = grading(CURVE)
    assert (answer.d10_um, answer.d16_um, answer.d90_um, answer.uniformity) == (None, None, None, None)
    assert answer.d84_um == pytest.approx(44.0 * (60.0 / 44.0) ** ((84.0 - 78.75) / 10.0))
    assert grading(CURVE, CUBIC).d50_um != pytest.approx(answer.d50_um, rel=1e-4)


def test_the_edition_decides_the_rule() -> None:
    cubic = replace(NINE, interpolation=CUBIC)
    straight, bent = figures(good_run()), figures(good_run(), method=cubic)
    assert straight.fractions is not None
    assert bent.fractions is not None
    curve = straight.curve
    assert bent.fractions.clay.value_pct == pytest.approx(percent_finer_at_size(curve, (2.0,), CUBIC)[0])
    assert bent.fractions.clay.value_pct != pytest.approx(straight.fractions.clay.value_pct, abs=0.01)
    assert any("monotone cubic" in note for note in bent.notes)
