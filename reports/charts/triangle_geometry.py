"""The places of sand, silt and clay on the paper, and the lines of an empty triangle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import atan2, degrees, dist, sqrt

from .look import Spec

HEIGHT = 100 * sqrt(3) / 2
"""Height of a triangle whose sides are 100 long."""
STEPS_PCT = (20, 40, 60, 80)
NARROW = 0.25
"""Area over the square of the longest edge, below which a name is set along that edge."""
Corner = Mapping[str, float]
"""{'sand': .., 'silt': .., 'clay': ..} in percent, adding up to 100."""
Place = tuple[float, float]
"""(x, y) on a triangle whose foot runs from (0, 0) to (100, 0)."""


def place(sand_pct: float, silt_pct: float, clay_pct: float) -> tuple[float, float]:
    """
    Position with all sand at the lower left, all silt at the lower right, all clay on top.

    Fractions that do not add up to 100 % are refused by a ValueError: they have no place.

    >>> place(100, 0, 0), place(0, 100, 0)
    ((0.0, 0.0), (100.0, 0.0))
    """
    total_pct = sand_pct + silt_pct + clay_pct
    if abs(total_pct - 100) > 0.05:
        raise ValueError(
            f"Sand, silt and clay add up to {total_pct:.2f} %, not 100 %: "
            "the triangle takes unrounded fractions of one sample."
        )
    return float(silt_pct + clay_pct / 2), clay_pct * HEIGHT / 100


def _placed(ring: Sequence[Corner]) -> list[Place]:
    return [place(corner["sand"], corner["silt"], corner["clay"]) for corner in ring]


def _edges(ring: Sequence[Corner]) -> list[tuple[Place, Place]]:
    corners = _placed(ring)
    return list(zip(corners, [*corners[1:], corners[0]], strict=True))


def _cross(a: Place, b: Place) -> float:
    return a[0] * b[1] - b[0] * a[1]


def outline(name: str, ring: Sequence[Corner]) -> list[Spec]:
    """Corners of one class, in order, as rows."""
    return [{"class": name, "corner": number, "x": x, "y": y} for number, (x, y) in enumerate(_placed(ring))]


def middle(ring: Sequence[Corner]) -> tuple[float, float]:
    """Centre of area of one class (shoelace sum), where its name is written."""
    edges = _edges(ring)
    six_areas = 3 * sum(_cross(a, b) for a, b in edges)
    x = sum((a[0] + b[0]) * _cross(a, b) for a, b in edges) / six_areas
    y = sum((a[1] + b[1]) * _cross(a, b) for a, b in edges) / six_areas
    return x, y


def slant(ring: Sequence[Corner]) -> float:
    """
    Angle at which a class name fits: along the longest edge in a narrow strip, else level.

    Clockwise, as the drawing counts. [degrees]
    """
    start, end = max(_edges(ring), key=lambda edge: dist(*edge))
    if area(ring) / dist(start, end) ** 2 > NARROW:
        return 0.0
    (x, y), (x2, y2) = sorted((start, end))
    return degrees(atan2(y - y2, x2 - x)) % 360


def area(ring: Sequence[Corner]) -> float:
    """Area of one class (shoelace sum), where the whole triangle has 4330."""
    return abs(sum(_cross(a, b) for a, b in _edges(ring))) / 2


def grid() -> list[Spec]:
    """Lines of equal clay, silt and sand, each as start and end."""
    lines = []
    for step in STEPS_PCT:
        rest = 100 - step
        for start, end in (
            ((rest, 0, step), (0, rest, step)),
            ((rest, step, 0), (0, step, rest)),
            ((step, rest, 0), (step, 0, rest)),
        ):
            (x, y), (x2, y2) = place(*start), place(*end)
            lines.append({"x": x, "y": y, "x2": x2, "y2": y2})
    return lines


def tick_labels() -> list[Spec]:
    """Numbers along the edges: clay up the left, silt down the right, sand leftwards along the foot."""
    labels = []
    for step in STEPS_PCT:
        rest = 100 - step
        left, right, foot = place(rest, 0, step), place(0, step, rest), place(step, rest, 0)
        labels.append({"x": left[0] - 2.6, "y": left[1], "label": f"{step}"})
        labels.append({"x": right[0] + 2.8, "y": right[1] + 1.4, "label": f"{step}"})
        labels.append({"x": foot[0] + 1.4, "y": foot[1] - 4, "label": f"{step}"})
    return labels
