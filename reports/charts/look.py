"""One look for every chart: type, ink and line, readable in colour and in grey."""

from __future__ import annotations

from typing import Any

Spec = dict[str, Any]
"""A Vega-Lite 6 description as plain JSON values."""

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
INK = "#2b2823"
QUIET = "#6d675d"
HAIRLINE = "#ddd7cc"
EARTH = "#9a532b"
EARTH_PALE = "#eed9c8"
PAPER = "#ffffff"
PALETTE = {
    "ink": INK,
    "quiet": QUIET,
    "hairline": HAIRLINE,
    "earth": EARTH,
    "earth-pale": EARTH_PALE,
    "paper": PAPER,
}
"""Goes along in every description, so that a page can put its own (dark) colours in place of these."""
FONT = "Inter"

CONFIG: Spec = {
    "background": PAPER,
    "font": FONT,
    "padding": {"left": 6, "right": 16, "top": 6, "bottom": 6},
    "view": {"stroke": None},
    "title": {"fontWeight": "normal", "fontSize": 13, "color": INK, "anchor": "start", "offset": 10},
    "axis": {
        "domainColor": QUIET,
        "gridColor": HAIRLINE,
        "gridWidth": 0.6,
        "labelColor": INK,
        "labelFontSize": 10,
        "labelFlush": False,
        "labelPadding": 5,
        "tickColor": QUIET,
        "tickSize": 4,
        "titleColor": INK,
        "titleFontSize": 11,
        "titleFontWeight": "normal",
        "titlePadding": 9,
    },
    "legend": {
        "labelColor": INK,
        "labelFontSize": 10,
        "orient": "top",
        "direction": "horizontal",
        "symbolDash": [1, 0],
        "symbolSize": 60,
        "symbolFillColor": "transparent",
        "title": None,
    },
    "text": {"color": INK, "fontSize": 10},
}


def chart(title: str, description: str, width: int, height: int, layers: list[Spec]) -> Spec:
    """A whole description: size in pixels, a title, a sentence for those who cannot see it, layers."""
    spec: Spec = {"$schema": SCHEMA, "description": description, "width": width, "height": height}
    if title:
        spec["title"] = title
    return {**spec, "layer": layers, "config": CONFIG, "usermeta": {"palette": PALETTE}}


def rows(values: list[Spec]) -> Spec:
    """Values placed in the description itself, so that nothing is fetched."""
    return {"values": values}


def quantity(field: str, **more: object) -> Spec:
    """One encoding of a measured field."""
    return {"field": field, "type": "quantitative", **more}


def labels_by_value(labels: dict[float, str]) -> str:
    """The Vega expression that prints one hand-set label for each tick value."""
    tests = [f"abs(datum.value - {value:g}) < {value * 1e-6:g} ? '{text}'" for value, text in labels.items()]
    return " : ".join([*tests, "''"])
