"""The range chart of duplicates: its lines, the pairs beyond them, and that a real Vega-Lite draws it."""

from __future__ import annotations

import re

import pytest

from particles.distribution.inputs.between_run import RangeLimits
from reports.charts import RangePoint, duplicate_ranges, to_svg
from reports.charts.look import EARTH, Spec

DIFFERENCE_PCT = (0.4, 1.2, 5.0, 0.0)


LIMITS = RangeLimits(mean_pct=1.0, warn_pct=2.48, stop_pct=3.27)


def _chart(difference_pct: tuple[float, ...] = DIFFERENCE_PCT, limits: RangeLimits | None = LIMITS) -> Spec:
    points = [RangePoint(f"26-0000{n}", each) for n, each in enumerate(difference_pct, start=1)]
    return duplicate_ranges(points, limits=limits, title="Duplicates, clay", description="Four pairs.")


def test_every_pair_is_drawn_in_its_order_nothing_clipped() -> None:
    _, pairs = _chart()["layer"]
    assert [row["difference_pct"] for row in pairs["data"]["values"]] == list(DIFFERENCE_PCT)
    assert [row["beyond"] for row in pairs["data"]["values"]] == [False, False, True, False]
    (low, high) = pairs["layer"][0]["encoding"]["y"]["scale"]["domain"]
    assert low == 0
    assert high > max(DIFFERENCE_PCT)


def test_the_picture_names_its_lines_and_fills_what_lies_beyond() -> None:
    svg = to_svg(_chart())
    words = re.findall(r">([^<>]+)</text>", svg)
    assert {"mean 1.00", "warning limit 2.48", "action limit 3.27"} <= set(words)
    assert svg == to_svg(_chart())
    assert svg.count(f'fill="{EARTH}"') == 1


@pytest.mark.parametrize("difference_pct", [(0.0, 0.0), (3.27, 3.27)])
def test_a_pair_on_the_action_limit_is_not_beyond(difference_pct: tuple[float, float]) -> None:
    assert to_svg(_chart(difference_pct)).count(f'fill="{EARTH}"') == 0


@pytest.mark.parametrize("difference_pct", [DIFFERENCE_PCT, (0.0, 0.0)])
def test_without_limits_the_points_stay_and_none_is_beyond(difference_pct: tuple[float, ...]) -> None:
    drawn = _chart(difference_pct, limits=None)
    (pairs,) = drawn["layer"]
    assert [row["difference_pct"] for row in pairs["data"]["values"]] == list(difference_pct)
    svg = to_svg(drawn)
    assert not [
        words for words in re.findall(r">([^<>]+)</text>", svg) if "limit" in words or "mean" in words
    ]
    assert svg.count(f'fill="{EARTH}"') == 0
