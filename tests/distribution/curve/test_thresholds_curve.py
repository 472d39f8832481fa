"""Where reading off the curve, its words and its draws change, from both sides; the numbers are written here."""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot

import pytest

from particles.distribution import (
    DistributionError,
    RunRecord,
    SandFraction,
    SizePoint,
    explain,
    percent_finer_at_size,
    texture_subclass,
)
from particles.distribution.curve.bend import bend_at
from particles.distribution.curve.beyond_last import day_line_ends
from particles.distribution.curve.reading_off import percent_finer_at
from particles.distribution.curve.separates import SEPARATES
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, TWO, at_times, figures, good_run, only, with_readings

GOOD = good_run()


def _last_point_at(um: float) -> RunRecord:
    """24 h give 1.354 µm."""
    return at_times(GOOD, {8: 86_400.0 * (1.354 / um) ** 2})


@pytest.mark.parametrize(("um", "said"), [(1.53, False), (1.515, True)])
def test_a_gap_of_a_factor_of_three_is_told(um: float, said: bool) -> None:
    """From 4.567 µm at 2 h: ratios of 2.985 and 3.015."""
    answer = figures(_last_point_at(um), draws=100)
    assert any("No reading lies near the clay limit" in note for note in answer.notes) is said


def test_two_points_leave_the_widest_gap() -> None:
    for record, said in ((only(GOOD, 0, 8), True), (only(GOOD, 0), False)):
        assert any("No reading lies near" in note for note in figures(record, draws=100).notes) is said


def _read_at(early_s: float, day_s: float) -> tuple[SizePoint, SizePoint] | None:
    points = figures(GOOD).points
    return day_line_ends([replace(points[6], elapsed_s=early_s), replace(points[8], elapsed_s=day_s)])


@pytest.mark.parametrize(
    ("early_s", "day_s", "counts"),
    [
        (4_300.0, 86_400.0, True), (4_290.0, 86_400.0, False), (7_500.0, 86_400.0, True), (7_510.0, 86_400.0, False),
        (5_400.0, 72_000.0, True), (5_400.0, 71_900.0, False), (5_400.0, 108_000.0, True), (5_400.0, 108_100.0, False),
    ],
)  # fmt: skip
def test_what_counts_as_the_readings_at_one_and_a_half_and_24_hours(
    early_s: float, day_s: float, counts: bool
) -> None:
    assert (_read_at(early_s, day_s) is not None) is counts


def test_what_lies_beyond_the_points_is_spent_within_one_and_a_half() -> None:
    """Two points of 60 and 40 %, 1 apart: each side falls by 40 % over 1.5, against 20 % between them."""
    bend = 2.0 * (20.0 - 40.0 / 1.5) / 2.5
    found = bend_at([exp(1.0), exp(0.0)], [60.0, 40.0], exp(0.5))
    assert found.magnitude_pct == pytest.approx(0.125 * hypot(bend, bend))


def test_a_neighbour_of_four_fifths_of_the_gap_counts() -> None:
    """The gap is 1 wide; what the point on its coarse side says matters from 0.8 on."""
    for width, counts in ((0.79, False), (0.81, True)):
        sizes = [exp(x) for x in (4.0, 1.0 + width, 1.0, 0.0, -2.0)]
        plain, moved = (bend_at(sizes, [90.0, at, 50.0, 40.0, 20.0], exp(0.5)) for at in (60.0, 65.0))
        assert (plain != moved) is counts


def test_two_points_are_the_fewest_to_read_off_and_to_name() -> None:
    assert percent_finer_at([50.0], [80.0], 50.0) is None
    assert percent_finer_at([50.0, 2.0], [80.0, 20.0], 10.0) is not None
    alone = figures(only(GOOD, 0), method=TWO).named_readings
    assert [named.name for named in alone] == ["in suspension at 30 s", "settled at 30 s"]
    assert figures(only(GOOD, 0, 8), method=TWO).named_readings[0].name == "silt and clay at 30 s"


def test_a_percent_at_any_size_is_never_read_beyond_the_points() -> None:
    points = figures(GOOD).curve
    outer, inner = points[0].diameter_um * 1.001, points[0].diameter_um * 0.999
    beyond, within = percent_finer_at_size(points, (outer, inner))
    assert beyond is None
    assert within is not None


def test_a_hundred_draws_are_the_fewest() -> None:
    assert figures(GOOD, draws=100).draws == 100
    with pytest.raises(DistributionError, match="Too few draws"):
        figures(GOOD, draws=99)


def test_an_interval_reaches_1_96_standard_uncertainties_to_either_side() -> None:
    """Of one normal error, that between runs; 1 in 40 draws lies beyond each end."""
    answer = figures(GOOD, method=replace(NINE, uncertainties=EXACT), draws=20_000).fractions
    assert answer is not None
    clay = answer.clay
    assert clay.low_pct is not None
    assert clay.high_pct is not None
    reach = [clay.value_pct - clay.low_pct, clay.high_pct - clay.value_pct]
    assert reach == pytest.approx([1.96 * clay.standard_uncertainty_pct] * 2, rel=0.03)


def test_a_blank_without_its_temperature_is_taken_within_half_a_degree() -> None:
    """Against √2 × 0.2 °C where both thermometers were read: 0.5 / 0.283 = 1.77 times the uncertainty."""
    method = replace(NINE, dispersion_sd_pct=0.0, uncertainties=replace(EXACT, thermometer_c=0.2))
    read, absent = (
        figures(with_readings(blank_temperature_c=at_c), method=method, draws=2000).fractions
        for at_c in (21.0, None)
    )
    assert read is not None
    assert absent is not None
    ratio = absent.clay.standard_uncertainty_pct / read.clay.standard_uncertainty_pct
    assert ratio == pytest.approx(1.768, abs=0.02)


def test_a_change_of_half_a_hundredth_of_a_point_is_shown() -> None:
    """A blank so little warmer than its suspension that leaving its temperature out moves figures by so much."""
    for apart_c, shown in ((0.006, False), (0.007, True)):
        explained = explain(with_readings(blank_temperature_c=21.0 - apart_c), NINE)
        (effect,) = [
            each for each in explained.effects if "temperature" in each.step and "blank" in each.step
        ]
        assert effect.clay_pct is not None
        assert effect.clay_pct != 0.0
        assert ("changes no figure" not in effect.sentence) is shown


def _subclass(texture: str, *percents: float) -> str:
    rows = zip(SEPARATES, percents, strict=True)
    return texture_subclass(texture, tuple(SandFraction(*row, percent) for row, percent in rows))


@pytest.mark.parametrize(
    ("percents", "subclass"),
    [
        ((2.0, 3.0, 20.0, 14.0, 50.0), "very fine sand"), ((2.0, 3.0, 20.1, 14.0, 49.9), "sand"),
        ((2.0, 3.0, 20.0, 50.0, 14.0), "fine sand"), ((2.0, 3.0, 20.1, 49.9, 14.0), "sand"),
        ((10.0, 15.0, 20.0, 30.0, 14.0), "coarse sand"), ((10.0, 14.9, 20.1, 30.0, 14.0), "sand"),
        ((10.0, 15.0, 49.9, 10.0, 4.0), "coarse sand"), ((10.0, 15.0, 50.0, 10.0, 4.0), "sand"),
        ((5.0, 5.0, 15.0, 40.0, 24.0), "sand"), ((5.0, 5.0, 14.9, 40.0, 24.0), "fine sand"),
    ],
)  # fmt: skip
def test_subclasses_of_sands(percents: tuple[float, ...], subclass: str) -> None:
    """25 and 50 % of the Soil Survey Manual."""
    assert _subclass("sand", *percents) == subclass


@pytest.mark.parametrize(
    ("percents", "subclass"),
    [
        ((10.0, 15.0, 0.0, 0.0, 50.0), "very fine"), ((10.0, 14.9, 0.0, 0.0, 50.0), "fine"),
        ((10.0, 10.0, 10.0, 0.0, 50.0), "very fine"), ((10.0, 10.0, 9.9, 0.0, 50.0), "fine"),
        ((10.0, 15.0, 0.0, 0.0, 49.9), "coarse"), ((10.0, 15.0, 5.0, 10.0, 10.0), "coarse"),
        ((10.0, 15.0, 0.0, 50.0, 0.0), "fine"), ((10.0, 15.0, 0.0, 49.9, 0.0), "coarse"),
        ((10.0, 15.0, 50.0, 0.0, 0.0), ""), ((10.0, 15.0, 49.9, 0.0, 0.0), "coarse"),
        ((5.0, 10.0, 15.0, 10.0, 10.0), ""), ((5.0, 10.0, 14.9, 10.0, 10.0), "fine"),
        ((5.0, 10.0, 15.0, 10.0, 30.0), "coarse"), ((5.0, 10.0, 15.0, 10.0, 29.9), ""),
        ((5.0, 10.0, 15.0, 30.0, 10.0), "fine"), ((5.0, 10.0, 15.0, 29.9, 10.0), ""),
        ((5.0, 5.0, 5.0, 20.0, 20.0), ""), ((5.0, 5.0, 5.1, 20.0, 20.0), "fine"),
        ((5.0, 5.0, 5.0, 29.9, 10.0), ""), ((5.0, 5.0, 5.0, 30.0, 10.0), "fine"),
        ((5.0, 5.0, 4.9, 10.0, 29.9), ""), ((5.0, 5.0, 4.9, 10.0, 30.0), "very fine"),
        ((5.0, 5.0, 4.9, 20.1, 20.0), "fine"), ((5.0, 5.0, 4.9, 20.0, 20.1), "very fine"),
        ((5.0, 5.0, 5.0, 20.0, 20.1), "fine"),
    ],
)  # fmt: skip
def test_subclasses_of_sandy_loams(percents: tuple[float, ...], subclass: str) -> None:
    """15, 25, 30, 40 and 50 % of the Soil Survey Manual, from memory."""
    assert _subclass("sandy loam", *percents) == f"{subclass} sandy loam".lstrip()
