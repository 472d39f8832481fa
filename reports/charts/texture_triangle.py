"""Samples in a texture triangle whose classes are handed in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .look import EARTH, EARTH_PALE, HAIRLINE, INK, PAPER, QUIET, Spec, chart, quantity, rows
from .triangle_geometry import HEIGHT, Corner, area, grid, middle, outline, place, slant, tick_labels

X_DOMAIN = (-12.0, 112.0)
Y_DOMAIN = (-12.0, HEIGHT + 5)
WIDTH_PX = 430
LINE = 5.0
"""Room for one line of words, in the units of the triangle (side 100)."""
SMALL = 200.0
"""Area below which a name of two words takes two lines; the whole triangle has 4330."""
EDGES = (
    (14.0, HEIGHT / 2 + 3, -60, "Clay, %"),
    (86.0, HEIGHT / 2 + 3, 60, "Silt, %"),
    (50.0, -10.0, 0, "Sand, %"),
)
"""Position, angle and words of the three edge titles; each lies just outside its edge."""


@dataclass(frozen=True, slots=True)
class TrianglePoint:
    """One sample to be drawn: its label and its unrounded sand, silt and clay. [%]"""

    label: str
    sand_pct: float
    silt_pct: float
    clay_pct: float


def texture_triangle(
    points: Sequence[TrianglePoint],
    *,
    polygons: Mapping[str, Sequence[Corner]],
    highlighted_class: str = "",
    draws: Sequence[tuple[float, float, float]] = (),
    title: str,
    description: str,
) -> Spec:
    """
    Texture triangle as a Vega-Lite 6 description, drawn on plain x and y.

    Parameters
    ----------
    points : (n,) samples; one is drawn without its label, several with.
    polygons : class name -> ring of corners {'sand', 'silt', 'clay'} [%], closing edge implied; may be empty.
    highlighted_class : class filled with a pale tone, or ''.
    draws : (m,) Monte Carlo draws as (sand, silt, clay) [%], a faint cloud that shows the uncertainty.

    Raises
    ------
    ValueError : fractions that do not add up to 100 %, or a highlighted class that has no polygon.
    """
    if highlighted_class and highlighted_class not in polygons:
        known = ", ".join(polygons) or "none"
        raise ValueError(f"The triangle has no class named '{highlighted_class}': it knows {known}.")
    height = round(WIDTH_PX * (Y_DOMAIN[1] - Y_DOMAIN[0]) / (X_DOMAIN[1] - X_DOMAIN[0]))
    layers = [*_paper(), *_classes(polygons, highlighted_class, points), *_cloud(draws)]
    layers += _points(points)
    return chart(title, description, WIDTH_PX, height, layers)


def _xy() -> Spec:
    return {
        "x": quantity("x", scale={"domain": list(X_DOMAIN), "nice": False, "zero": False}, axis=None),
        "y": quantity("y", scale={"domain": list(Y_DOMAIN), "nice": False, "zero": False}, axis=None),
    }


def _paper() -> list[Spec]:
    lines = {
        "data": rows(grid()),
        "mark": {"type": "rule", "color": HAIRLINE, "strokeWidth": 0.6},
        "encoding": {**_xy(), "x2": {"field": "x2"}, "y2": {"field": "y2"}},
    }
    numbers = {
        "data": rows(tick_labels()),
        "mark": {"type": "text", "color": INK, "fontSize": 10},
        "encoding": {**_xy(), "text": {"field": "label"}},
    }
    titles = [
        {
            "data": rows([{"x": x, "y": y, "label": words}]),
            "mark": {"type": "text", "angle": angle % 360, "fontSize": 11},
            "encoding": {**_xy(), "text": {"field": "label"}},
        }
        for x, y, angle, words in EDGES
    ]
    return [lines, numbers, *titles, _outer_edge()]


def _outer_edge() -> Spec:
    corners = [{"x": x, "y": y, "corner": n} for n, (x, y) in enumerate([(0, 0), (100, 0), (50, HEIGHT)])]
    return {
        "data": rows(corners),
        "mark": {"type": "line", "interpolate": "linear-closed", "color": QUIET, "strokeWidth": 1.1},
        "encoding": {**_xy(), "order": quantity("corner")},
    }


def _classes(
    polygons: Mapping[str, Sequence[Corner]], highlighted: str, points: Sequence[TrianglePoint]
) -> list[Spec]:
    if not polygons:
        return []
    layers = [_rings([highlighted], polygons, fill=EARTH_PALE)] if highlighted else []
    layers.append(_rings(list(polygons), polygons))
    named = []
    for name, ring in polygons.items():
        x, y = middle(ring)
        movable = not slant(ring) and area(ring) >= SMALL
        down = LINE if movable and _covered(x, y, points) else 0.0
        named.append({"x": x, "y": y - down, "label": _in_lines(name, ring), "angle": slant(ring)})
    words = {
        "data": rows(named),
        "mark": {"type": "text", "color": QUIET, "fontSize": 9.5, "lineBreak": "\n", "lineHeight": 10.5},
        "encoding": {**_xy(), "text": {"field": "label"}, "angle": quantity("angle", scale=None)},
    }
    words["mark"] |= {"baseline": "middle"}
    return [*layers, words]


def _rings(names: list[str], polygons: Mapping[str, Sequence[Corner]], fill: str | None = None) -> Spec:
    mark: Spec = {"type": "line", "interpolate": "linear-closed", "color": QUIET, "strokeWidth": 0.8}
    if fill:
        mark["fill"] = fill
    corners = [corner for name in names for corner in outline(name, polygons[name])]
    return {
        "data": rows(corners),
        "mark": mark,
        "encoding": {**_xy(), "detail": {"field": "class"}, "order": quantity("corner")},
    }


def _in_lines(name: str, ring: Sequence[Corner]) -> str:
    """Two lines for a name of three words, or of two in a small class; along a narrow strip always one."""
    words = name.split()
    if slant(ring) or len(words) < (2 if area(ring) < SMALL else 3):
        return name
    return f"{' '.join(words[:-1])}\n{words[-1]}"


def _covered(x: float, y: float, points: Sequence[TrianglePoint]) -> bool:
    """Whether a sample would sit on a class name written here."""
    placed = [place(point.sand_pct, point.silt_pct, point.clay_pct) for point in points]
    return any(abs(x - at[0]) < 2 * LINE and abs(y - at[1]) < LINE / 2 for at in placed)


def _cloud(draws: Sequence[tuple[float, float, float]]) -> list[Spec]:
    if not draws:
        return []
    placed = [place(*draw) for draw in draws]
    return [
        {
            "data": rows([{"x": round(x, 2), "y": round(y, 2)} for x, y in placed]),
            "mark": {"type": "circle", "color": EARTH, "size": 5, "opacity": 0.18},
            "encoding": _xy(),
        }
    ]


def _points(points: Sequence[TrianglePoint]) -> list[Spec]:
    values = []
    for point in points:
        x, y = place(point.sand_pct, point.silt_pct, point.clay_pct)
        figures = {"sand_pct": point.sand_pct, "silt_pct": point.silt_pct, "clay_pct": point.clay_pct}
        values.append({"x": x, "y": y, "label": point.label, **figures})
    hover = [
        {"field": "label", "title": "sample"},
        *(quantity(f"{name}_pct", title=f"{name}, %", format=".1f") for name in ("sand", "silt", "clay")),
    ]
    marks = {
        "data": rows(values),
        "mark": {
            "type": "point",
            "fill": EARTH,
            "stroke": PAPER,
            "size": 80,
            "strokeWidth": 1.2,
            "opacity": 1,
        },
        "encoding": {**_xy(), "tooltip": hover},
    }
    if len(values) < 2:
        return [marks]
    return [*_sample_labels(values), marks]


def _sample_labels(values: list[Spec]) -> list[Spec]:
    """Each label twice: a white edge first, so that it can be read across a class line."""
    mark = {"type": "text", "align": "left", "dx": 7, "fontSize": 10, "color": INK}
    edge = {**mark, "color": PAPER, "stroke": PAPER, "strokeWidth": 3}
    encoding = {**_xy(), "text": {"field": "label"}}
    return [{"data": rows(values), "mark": each, "encoding": encoding} for each in (edge, mark)]
