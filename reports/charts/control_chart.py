"""Control chart: one figure after another, with the limits that were in force at the time of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise

from .look import EARTH, INK, PAPER, QUIET, Spec, chart, labels_by_value, quantity, rows

MOST_LABELS = 8
"""More labels under the axis would run into each other."""


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """One point with the limits of its day, in the unit of the chart."""

    batch: str
    day: str
    words: str
    """What whoever points at it reads: rules that fired, answers."""
    value: float
    centre: float | None = None
    low_action: float | None = None
    low_warn: float | None = None
    high_warn: float | None = None
    high_action: float | None = None
    weighted_mean: float | None = None
    weight: str = ""
    """stop, warn or ''."""
    left_out: bool = False
    """Whether it stands on the chart and counts for nothing."""
    version: int = 0


LINES = {
    "centre": "centre",
    "low_warn": "warning",
    "high_warn": "warning",
    "low_action": "action",
    "high_action": "action",
}


def control_chart(points: Sequence[ControlPoint], *, title: str, unit: str, description: str) -> Spec:
    """
    Points in order of time as a Vega-Lite 6 description.

    Parameters
    ----------
    points : (n,) the oldest first, n >= 1. Filled: beyond a limit or rule; crossed: counts for nothing.
    """
    values = [{"place": place, **asdict(point)} for place, point in enumerate(points, start=1)]
    y = {"title": unit, "scale": {"zero": False, "nice": True}}
    x = _axis(points)
    layers = [*(_limit(values, name, words, x, y) for name, words in LINES.items()), *_weighted(values, x, y)]
    return chart(title, description, 640, 230, [*layers, *_points(values, x, y)])


def _axis(points: Sequence[ControlPoint]) -> Spec:
    every = -(-len(points) // MOST_LABELS)
    shown = {
        float(place): f"{point.batch} · {point.day}"
        for place, point in enumerate(points, start=1)
        if (len(points) - place) % every == 0
    }
    axis = {
        "title": None,
        "values": sorted(shown),
        "labelExpr": labels_by_value(shown),
        "labelAngle": -28,
        "grid": False,
    }
    return quantity("place", axis=axis, scale={"domain": [0.5, len(points) + 0.5], "nice": False})


def _limit(values: list[Spec], name: str, words: str, x: Spec, y: Spec) -> Spec:
    """One line of limits, broken where another version takes over or none is in force."""
    segments = []
    for before, after in pairwise(values):
        if before[name] is not None and before["version"] == after["version"]:
            segments.append(_segment(before, after["place"] - 0.5, name))
        elif before[name] is not None:
            segments.append(_segment(before, before["place"] + 0.5, name))
    if values and values[-1][name] is not None:
        segments.append(_segment(values[-1], values[-1]["place"] + 0.5, name))
    solid = words == "centre"
    return {
        "data": rows(segments),
        "mark": {
            "type": "rule",
            "color": INK if words == "action" else QUIET,
            "strokeWidth": 1.1 if words == "action" else 0.8,
            "strokeDash": [1, 0] if solid else [6, 3] if words == "action" else [2, 3],
        },
        "encoding": {
            "x": {**x, "field": "from"},
            "x2": {"field": "to"},
            "y": quantity("at", **y),
            "tooltip": [{"field": "words", "title": "limit"}, quantity("at", format=".3f", title="at")],
        },
    }


def _segment(value: Spec, to: float, name: str) -> Spec:
    return {"from": value["place"] - 0.5, "to": to, "at": value[name], "words": LINES[name]}


def _weighted(values: list[Spec], x: Spec, y: Spec) -> list[Spec]:
    if all(value["weighted_mean"] is None for value in values):
        return []
    mark = {"type": "line", "color": QUIET, "strokeWidth": 2.2, "opacity": 0.45, "interpolate": "monotone"}
    kept = [value for value in values if value["weighted_mean"] is not None]
    return [
        {"data": rows(kept), "mark": mark, "encoding": {"x": x, "y": quantity("weighted_mean", **y)}},
    ]


def _points(values: list[Spec], x: Spec, y: Spec) -> list[Spec]:
    place = {"x": x, "y": quantity("value", **y)}
    line = {"mark": {"type": "line", "strokeWidth": 1, "color": EARTH}, "encoding": place}
    fill = {"condition": {"test": "datum.weight === 'stop'", "value": EARTH}, "value": PAPER}
    shape = {
        "condition": [
            {"test": "datum.left_out", "value": "cross"},
            {"test": "datum.weight !== ''", "value": "diamond"},
        ],
        "value": "circle",
    }
    hover = [
        {"field": "batch", "title": "batch"},
        {"field": "day", "title": "day"},
        quantity("value", title="value", format=".2f"),
        {"field": "words", "title": "what is said"},
    ]
    size = {"condition": {"test": "datum.weight !== ''", "value": 90}, "value": 44}
    marks = {
        "mark": {"type": "point", "opacity": 1, "strokeWidth": 1.4, "stroke": EARTH},
        "encoding": {**place, "fill": fill, "shape": shape, "size": size, "tooltip": hover},
    }
    return [{"data": rows(values), "layer": [line, marks]}]
