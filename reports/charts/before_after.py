"""Two size curves of one run in one small chart: as recorded, and with a cause put right."""

from __future__ import annotations

from collections.abc import Sequence

from .look import EARTH, QUIET, Spec, chart, labels_by_value, quantity, rows
from .size_curve import TICKS_UM, PointOfCurve

NAMES = ("as recorded", "put right")
TICKS_SHOWN_UM = (1, 2, 10, 50, 200, 1000)
Points = Sequence[tuple[float, float]]


def before_after(before: Points, after: Points, *, title: str, description: str) -> Spec:
    """
    Both curves as a Vega-Lite 6 description.

    Parameters
    ----------
    before, after : (n,) and (m,) of (diameter, percent finer), diameters above zero. [µm, %]

    Raises
    ------
    ValueError : a diameter at or below zero, which a logarithmic axis cannot show.
    """
    values = [
        {"place": place, "diameter_um": um, "percent_finer": percent, "of": name}
        for name, points in zip(NAMES, (before, after), strict=True)
        for place, (um, percent) in enumerate(points)
    ]
    _require_above_zero([value["diameter_um"] for value in values])
    return chart(title, description, 240, 130, [{"data": rows(values), **_lines(values)}])


def _require_above_zero(diameters_um: Sequence[object]) -> None:
    for um in diameters_um:
        if not isinstance(um, int | float) or um <= 0:
            raise ValueError(f"A size curve cannot show a diameter of {um} µm: leave the point out.")


def _lines(values: Sequence[Spec]) -> Spec:
    dash = {"condition": {"test": f"datum.of === '{NAMES[0]}'", "value": [1, 0]}, "value": [5, 3]}
    colour = {"domain": list(NAMES), "range": [QUIET, EARTH]}
    axes = _axes([value["percent_finer"] for value in values], [value["diameter_um"] for value in values])
    return {
        "mark": {"type": "line", "strokeWidth": 1.8, "point": {"size": 18}},
        "encoding": {
            **axes,
            "order": quantity("place"),
            "strokeDash": dash,
            "color": {"field": "of", "type": "nominal", "scale": colour},
        },
    }


def _axes(percents: Sequence[float], diameters_um: Sequence[float]) -> Spec:
    x_axis = {
        "title": "Diameter, µm",
        "values": list(TICKS_SHOWN_UM),
        "labelExpr": labels_by_value({float(tick): f"{tick:g}" for tick in TICKS_SHOWN_UM}),
    }
    x_domain = [min([TICKS_UM[0], *diameters_um]), max([TICKS_UM[-1], *diameters_um])]
    y_domain = [min([0, *percents]), max([100, *percents])]
    return {
        "x": quantity("diameter_um", scale={"type": "log", "domain": x_domain, "nice": False}, axis=x_axis),
        "y": quantity(
            "percent_finer",
            scale={"domain": y_domain, "nice": False},
            axis={"title": "Finer, %", "values": [0, 50, 100]},
        ),
    }


def small_curve(points: Sequence[PointOfCurve], *, description: str) -> Spec:
    """One size curve without axes, as small as a word, for a table of many."""
    values = [
        {"place": place, "diameter_um": each.diameter_um, "percent_finer": each.percent_finer}
        for place, each in enumerate(points)
    ]
    diameters_um = [each.diameter_um for each in points]
    percents = [each.percent_finer for each in points]
    _require_above_zero(diameters_um)
    x_domain = [min([TICKS_UM[0], *diameters_um]), max([TICKS_UM[-1], *diameters_um])]
    y_domain = [min([0, *percents]), max([100, *percents])]
    bare = {"axis": None}
    layer: Spec = {
        "data": rows(values),
        "mark": {"type": "line", "color": EARTH, "strokeWidth": 1.6},
        "encoding": {
            "x": quantity("diameter_um", scale={"type": "log", "domain": x_domain, "nice": False}, **bare),
            "y": quantity("percent_finer", scale={"domain": y_domain, "nice": False}, **bare),
            "order": quantity("place"),
        },
    }
    spec = chart("", description, 100, 32, [layer])
    return {**spec, "padding": 2}
