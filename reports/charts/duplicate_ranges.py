"""Range chart of duplicates: the difference between two runs of one sample, pair after pair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from particles.distribution.inputs.between_run import RangeLimits

from .look import EARTH, INK, PAPER, QUIET, Spec, chart, quantity, rows


@dataclass(frozen=True, slots=True)
class RangePoint:
    """One pair of duplicates, a point of the range chart."""

    label: str
    """Sample, batch and day, for whoever points at it."""
    difference_pct: float
    """[percentage points]"""


def duplicate_ranges(
    points: Sequence[RangePoint],
    *,
    limits: RangeLimits | None,
    title: str,
    description: str,
) -> Spec:
    """
    Differences in order of time, with their mean and limits where given, as a Vega-Lite 6 description.

    Parameters
    ----------
    points : (n,) the oldest first. A pair beyond the action limit is drawn filled.
    limits : lines across the chart; None while there are too few pairs for any. [percentage points]
    """
    values = [
        {
            "pair": place,
            "difference_pct": point.difference_pct,
            "label": point.label,
            "beyond": limits is not None and point.difference_pct > limits.stop_pct,
        }
        for place, point in enumerate(points, start=1)
    ]
    highest = [point.difference_pct for point in points] + ([limits.stop_pct] if limits else [])
    y = {"scale": {"domain": [0, max(highest) * 1.12 or 1.0], "nice": False}}
    layers = [_limits(limits, y)] if limits else []
    return chart(title, description, 430, 210, [*layers, _pairs(values, y)])


def _limits(limits: RangeLimits, y: Spec) -> Spec:
    lines = [
        {"at_pct": limits.mean_pct, "words": f"mean {limits.mean_pct:.2f}"},
        {"at_pct": limits.warn_pct, "words": f"warning limit {limits.warn_pct:.2f}"},
        {"at_pct": limits.stop_pct, "words": f"action limit {limits.stop_pct:.2f}"},
    ]
    dash = {"condition": {"test": "indexof(datum.words, 'mean') === 0", "value": [1, 0]}, "value": [4, 3]}
    at = quantity("at_pct", title="Difference, percentage points", **y)
    rule = {
        "mark": {"type": "rule", "color": QUIET},
        "encoding": {"y": at, "strokeDash": dash},
    }
    words = {
        "mark": {"type": "text", "align": "left", "baseline": "bottom", "dx": 4, "dy": -2, "color": INK},
        "encoding": {"y": at, "x": {"value": 0}, "text": {"field": "words"}},
    }
    return {"data": rows(lines), "layer": [rule, words]}


def _pairs(values: list[Spec], y: Spec) -> Spec:
    axis = {"title": "Pair, the oldest first", "tickMinStep": 1, "format": "d", "grid": False}
    domain = {"domain": [0.5, len(values) + 0.5], "nice": False}
    place = {
        "x": quantity("pair", axis=axis, scale=domain),
        "y": quantity("difference_pct", title="Difference, percentage points", **y),
    }
    line = {"mark": {"type": "line", "strokeWidth": 1.2, "color": EARTH}, "encoding": place}
    fill = {"condition": {"test": "datum.beyond", "value": EARTH}, "value": PAPER}
    hover = [
        {"field": "label", "title": "pair"},
        quantity("difference_pct", title="apart, points", format=".2f"),
    ]
    marks = {
        "mark": {"type": "point", "size": 46, "opacity": 1, "strokeWidth": 1.4, "stroke": EARTH},
        "encoding": {**place, "fill": fill, "tooltip": hover},
    }
    return {"data": rows(values), "layer": [line, marks]}
