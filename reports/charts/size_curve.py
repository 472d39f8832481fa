"""Percent finer against diameter, with the limits that cut it into clay, silt and sand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from .look import EARTH, INK, PAPER, QUIET, Spec, chart, labels_by_value, quantity, rows

TICKS_UM = (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000)
SHAPES = {"hydrometer": "circle", "sieve": "square"}


class PointOfCurve(Protocol):
    """A point of a size curve, such as one of the core's curve or a row of a certificate."""

    @property
    def diameter_um(self) -> float: ...
    @property
    def percent_finer(self) -> float: ...
    @property
    def source(self) -> str: ...


def size_curve(
    points: Sequence[PointOfCurve],
    *,
    clay_limit_um: float | None,
    sand_limit_um: float | None,
    title: str,
    description: str,
) -> Spec:
    """
    The joined size curve as a Vega-Lite 6 description.

    Parameters
    ----------
    points : (n,) in the order in which the line joins them; diameter above zero [µm], percent finer [%].
        Percentages below 0 or above 100 widen the axis; they are not cut off.
    clay_limit_um, sand_limit_um : limits drawn as labelled rules, or None for no rule. [µm]

    Raises
    ------
    ValueError : a diameter at or below zero, which a logarithmic axis cannot show.
    """
    for point in points:
        if point.diameter_um <= 0:
            raise ValueError(
                f"The size curve cannot show a diameter of {point.diameter_um:g} µm: "
                "leave the point out or correct its reading."
            )
    layers = [*_limits(clay_limit_um, sand_limit_um), *_curve(points)]
    return chart(title, description, 430, 230, layers)


def _axes(points: Sequence[PointOfCurve]) -> Spec:
    diameters = [point.diameter_um for point in points]
    percents = [point.percent_finer for point in points]
    x_domain = [min([TICKS_UM[0], *diameters]), max([TICKS_UM[-1], *diameters])]
    y_domain = [min([0, *percents]), max([100, *percents])]
    x_axis = {
        "title": "Equivalent diameter, µm (logarithmic)",
        "values": list(TICKS_UM),
        "labelExpr": labels_by_value({tick: f"{tick:g}" for tick in TICKS_UM}),
        "labelOverlap": False,
    }
    y_axis = {"title": "Finer by mass, %", "values": list(range(0, 101, 20))}
    return {
        "x": quantity("diameter_um", scale={"type": "log", "domain": x_domain, "nice": False}, axis=x_axis),
        "y": quantity("percent_finer", scale={"domain": y_domain, "nice": False}, axis=y_axis),
    }


def _curve(points: Sequence[PointOfCurve]) -> list[Spec]:
    data = rows(
        [
            {
                "place": place,
                "diameter_um": point.diameter_um,
                "percent_finer": point.percent_finer,
                "source": point.source,
            }
            for place, point in enumerate(points)
        ]
    )
    axes = _axes(points)
    sources = {"domain": list(SHAPES), "range": list(SHAPES.values())}
    hover = [
        {"field": "source", "title": "from"},
        quantity("diameter_um", title="diameter, µm", format=".3~g"),
        quantity("percent_finer", title="finer, %", format=".1f"),
    ]
    line = {
        "data": data,
        "mark": {"type": "line", "color": EARTH, "strokeWidth": 1.6},
        "encoding": {**axes, "order": quantity("place")},
    }
    marks = {
        "data": data,
        "mark": {"type": "point", "fill": PAPER, "stroke": INK, "size": 46, "opacity": 1, "strokeWidth": 1.3},
        "encoding": {
            **axes,
            "shape": {"field": "source", "type": "nominal", "scale": sources},
            "tooltip": hover,
        },
    }
    return [line, marks]


def _limits(clay_limit_um: float | None, sand_limit_um: float | None) -> list[Spec]:
    named = [(clay_limit_um, "clay | silt"), (sand_limit_um, "silt | sand")]
    data = rows([{"limit_um": um, "label": f"{name} {um:g} µm"} for um, name in named if um is not None])
    if not data["values"]:
        return []
    place = {"x": quantity("limit_um")}
    rule = {
        "data": data,
        "mark": {"type": "rule", "color": QUIET, "strokeDash": [4, 3], "strokeWidth": 1},
        "encoding": place,
    }
    words = {
        "data": data,
        "mark": {"type": "text", "color": QUIET, "align": "left", "dx": 5, "dy": 9, "baseline": "middle"},
        "encoding": {**place, "y": {"value": 0}, "text": {"field": "label"}},
    }
    return [rule, words]
