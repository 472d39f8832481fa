"""Raw hydrometer readings of a run and of its blank against true elapsed time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .look import EARTH, PAPER, QUIET, Spec, chart, labels_by_value, quantity, rows

TICKS_S = {
    30: "30 s",
    60: "1 min",
    120: "2 min",
    300: "5 min",
    900: "15 min",
    1800: "30 min",
    3600: "1 h",
    7200: "2 h",
    14400: "4 h",
    28800: "8 h",
    86400: "24 h",
}
NAMES = ("suspension", "blank")


@dataclass(frozen=True, slots=True)
class RawReading:
    """One number as read on the stem. A missed reading has no number and is not passed."""

    elapsed_s: float
    reading_g_l: float


def settling_run(
    readings: Sequence[RawReading],
    blank_readings: Sequence[RawReading],
    *,
    title: str,
    description: str,
) -> Spec:
    """
    Raw readings of suspension and blank as a Vega-Lite 6 description.

    Parameters
    ----------
    readings, blank_readings : (n,) and (m,) in order of elapsed time above zero [s]; stem readings [g/L],
        negative ones are shown as such.

    Raises
    ------
    ValueError : an elapsed time at or below zero, which a logarithmic axis cannot show.
    """
    values = []
    for name, series in zip(NAMES, (readings, blank_readings), strict=True):
        for item in series:
            if item.elapsed_s <= 0:
                raise ValueError(
                    f"The settling chart cannot show a reading at {item.elapsed_s:g} s: "
                    "elapsed time counts from the end of stirring; correct the time."
                )
            values.append({"elapsed_s": item.elapsed_s, "reading_g_l": item.reading_g_l, "of": name})
    return chart(title, description, 430, 230, _layers(values))


def _layers(values: list[Spec]) -> list[Spec]:
    colour = {"domain": list(NAMES), "range": [EARTH, QUIET]}
    encoding = {**_axes(values), "color": {"field": "of", "type": "nominal", "scale": colour}}
    shapes = {"domain": list(NAMES), "range": ["circle", "diamond"]}
    dash = {"condition": {"test": f"datum.of === '{NAMES[1]}'", "value": [4, 3]}, "value": [1, 0]}
    line = {
        "mark": {"type": "line", "strokeWidth": 1.6},
        "encoding": {**encoding, "strokeDash": dash},
    }
    hover = [
        {"field": "of", "title": "in"},
        quantity("elapsed_s", title="elapsed, s", format=",.0f"),
        quantity("reading_g_l", title="reading, g/L", format=".1f"),
    ]
    marks = {
        "mark": {"type": "point", "fill": PAPER, "size": 46, "opacity": 1, "strokeWidth": 1.4},
        "encoding": {
            **encoding,
            "shape": {"field": "of", "type": "nominal", "scale": shapes},
            "tooltip": hover,
        },
    }
    return [{"data": rows(values), "layer": [line, marks]}]


def _axes(values: list[Spec]) -> Spec:
    times = [value["elapsed_s"] for value in values]
    numbers = [value["reading_g_l"] for value in values]
    x_domain = [min([30, *times]), max([86400, *times])]
    y_domain = [min([0, *numbers]), max([10, *numbers])]
    x_axis = {
        "title": "Elapsed since the end of stirring (logarithmic)",
        "values": list(TICKS_S),
        "labelExpr": labels_by_value({float(tick): text for tick, text in TICKS_S.items()}),
        "labelOverlap": False,
    }
    y_axis = {"title": "Reading on the stem, g/L", "tickCount": 6}
    return {
        "x": quantity("elapsed_s", scale={"type": "log", "domain": x_domain, "nice": False}, axis=x_axis),
        "y": quantity("reading_g_l", scale={"domain": y_domain, "nice": True}, axis=y_axis),
    }
