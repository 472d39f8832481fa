"""Clay when the last reading lies above the limit: not at all, by a factor, or by the line to 24 h."""

from __future__ import annotations

from dataclasses import replace
from math import log

import pytest

from particles.distribution import ClayExtrapolation, RunRecord
from tests.support.runs import NINE, figures, good_run

COLD = good_run()
COLD = replace(
    COLD,
    readings=tuple(
        replace(p, temperature_c=12.0, blank_temperature_c=12.0, elapsed_s=min(p.elapsed_s, 80000.0))
        for p in COLD.readings
    ),
    hydrometer=replace(COLD.hydrometer, depth=replace(COLD.hydrometer.depth, intercept_cm=27.0)),
)
"""A long, cold column, invented, so that the 24 h reading stops at 2.3 µm."""


def _clay(rule: ClayExtrapolation, record: RunRecord = COLD) -> tuple[float | None, set[str]]:
    answer = figures(record, method=replace(NINE, clay_extrapolation=rule))
    clay = answer.fractions.clay.value_pct if answer.fractions else None
    return clay, {finding.code for finding in answer.findings}


def test_none_gives_no_figure() -> None:
    clay, codes = _clay(ClayExtrapolation.NONE)
    assert clay is None
    assert "clay_limit_not_reached" in codes


def test_line_through_one_and_a_half_and_24_hours_by_hand() -> None:
    points = {point.reading_index: point for point in figures(COLD).points}
    early, day = points[6], points[8]
    assert (early.elapsed_s, day.elapsed_s) == (5400.0, 80000.0)
    assert 2.0 < day.diameter_um < 2.6
    slope = (early.percent_finer_curve - day.percent_finer_curve) / log(early.diameter_um / day.diameter_um)
    clay, codes = _clay(ClayExtrapolation.DAY_LINE)
    assert clay == pytest.approx(slope * log(2.0 / day.diameter_um) + day.percent_finer_curve)
    assert "clay_limit_extrapolated" in codes


def test_the_factor_extends_the_last_two_points_instead() -> None:
    by_factor, codes = _clay(ClayExtrapolation.FACTOR)
    by_line, _ = _clay(ClayExtrapolation.DAY_LINE)
    assert by_factor != pytest.approx(by_line, abs=1e-3)
    assert "clay_limit_extrapolated" in codes


@pytest.mark.parametrize("rule", list(ClayExtrapolation))
def test_a_bracketed_limit_is_read_off_whatever_the_rule(rule: ClayExtrapolation) -> None:
    clay, codes = _clay(rule, good_run())
    assert clay == pytest.approx(22.3627, abs=1e-3)
    assert not codes & {"clay_limit_extrapolated", "clay_limit_not_reached"}


def test_no_line_without_the_early_reading() -> None:
    kept = tuple(p for k, p in enumerate(COLD.readings) if k not in (6, 7))
    clay, codes = _clay(ClayExtrapolation.DAY_LINE, replace(COLD, readings=kept))
    assert clay is None
    assert "clay_limit_not_reached" in codes


def test_never_beyond_the_factor() -> None:
    shorter = replace(COLD, readings=(*COLD.readings[:8], replace(COLD.readings[8], elapsed_s=72000.0 * 0.5)))
    for rule in (ClayExtrapolation.FACTOR, ClayExtrapolation.DAY_LINE):
        assert _clay(rule, shorter)[0] is None
