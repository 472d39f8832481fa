"""
Texture class by the twelve written rules of the USDA triangle.

Source: Soil Survey Manual, USDA Handbook 18 (2017), chapter 3, pp. 122-124, as kept in
fixtures/reference/texture_classes.json. Every point of the triangle meets exactly one rule, so the rules
themselves decide on a line; such a point is reported as on the line.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot

import numpy as np
from numpy.typing import NDArray

from particles.distribution.answer import TextureClass
from particles.distribution.texture.corners import USDA_POLYGONS, Corners
from particles.distribution.triple import SandSiltClay

Floats = NDArray[np.float64]
Lines = tuple[tuple[tuple[float, float], tuple[float, float]], ...]
"""(sand, clay) at both ends of each line. [%]"""

USDA_CLASSES: tuple[str, ...] = tuple(USDA_POLYGONS)
"""Names, in the order of `usda_rules`."""

USDA_LIMITS_UM = (2.0, 50.0)
"""Clay and sand limit the triangle is drawn for; fractions at other limits get no class. [µm]"""
ON_THE_LINE_PCT = 1e-9
"""Distance within which a point lies on a class line, for the last binary digit. [%]"""


def usda_rules(sand: Floats, silt: Floats, clay: Floats) -> list[NDArray[np.bool_]]:
    """
    Points that meet the rule of each class; every point meets exactly one.

    Parameters
    ----------
    sand, silt, clay : (n,) percent, not negative, adding up to 100. [%]

    Returns
    -------
    Of (n,) each, in the order of USDA_CLASSES.
    """
    steep, flat = np.round(silt + 1.5 * clay, 9), np.round(silt + 2.0 * clay, 9)
    clay_7, clay_12, clay_20, clay_27 = clay >= 7, clay >= 12, clay >= 20, clay >= 27
    clay_35, clay_40, silt_28, silt_50 = clay >= 35, clay >= 40, silt >= 28, silt >= 50
    sandy, flat_30, steep_15 = sand > 45, flat >= 30, steep >= 15
    middling = clay_27 & ~clay_40
    return [
        (sand > 85) & ~steep_15,
        (sand >= 70) & (sand <= 90) & steep_15 & ~flat_30,
        flat_30 & ((clay_7 & ~clay_20 & (sand > 52)) | (~clay_7 & ~silt_50)),
        clay_7 & ~clay_27 & silt_28 & ~silt_50 & (sand <= 52),
        silt_50 & ~clay_27 & (clay_12 | (silt < 80)),
        (silt >= 80) & ~clay_12,
        clay_20 & ~clay_35 & ~silt_28 & sandy,
        middling & (sand > 20) & ~sandy,
        middling & (sand <= 20),
        clay_35 & sandy,
        clay_40 & (silt >= 40),
        clay_40 & ~sandy & (silt < 40),
    ]


def usda_codes(sand: Floats, silt: Floats, clay: Floats) -> NDArray[np.intp]:
    """Index into USDA_CLASSES for each point; arguments as `usda_rules`, (n,) integers."""
    codes: NDArray[np.intp] = np.argmax(np.stack(usda_rules(sand, silt, clay)), axis=0)
    return codes


def onto_triangle(sand: Floats, silt: Floats, clay: Floats) -> SandSiltClay[Floats]:
    """Nearest point of the triangle to each point of its plane; points inside stay as they are. [%]"""
    parts = np.stack([sand, silt, clay])
    outside = np.flatnonzero(parts.min(axis=0) < 0.0)
    if outside.size:
        ordered = -np.sort(-parts[:, outside], axis=0)
        shifts = (np.cumsum(ordered, axis=0) - 100.0) / np.array([[1.0], [2.0], [3.0]])
        kept = np.count_nonzero(ordered > shifts, axis=0) - 1
        shift = np.take_along_axis(shifts, kept[np.newaxis], axis=0)
        parts[:, outside] = np.maximum(parts[:, outside] - shift, 0.0)
    return SandSiltClay(parts[0], parts[1], parts[2])


def usda_class(sand_pct: float, silt_pct: float, clay_pct: float) -> TextureClass:
    """Class of one soil from its unrounded fractions. [%]"""
    inside = onto_triangle(*(np.array([part]) for part in (sand_pct, silt_pct, clay_pct)))
    sand, silt, clay = (np.round(part, 9) for part in inside)
    name = USDA_CLASSES[int(usda_codes(sand, silt, clay)[0])]
    return TextureClass("USDA", name, near_a_line(float(sand[0]), float(clay[0]), _USDA_LINES))


def near_a_line(sand: float, clay: float, lines: Lines) -> bool:
    """Whether a point lies on one of the class lines."""
    return any(_distance((sand, clay), start, end) <= ON_THE_LINE_PCT for start, end in lines)


def _distance(point: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> float:
    (px, py), (ax, ay), (bx, by) = point, start, end
    dx, dy = bx - ax, by - ay
    share = ((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy)
    share = min(max(share, 0.0), 1.0)
    return hypot(px - ax - share * dx, py - ay - share * dy)


def inner_lines(polygons: Mapping[str, Corners]) -> Lines:
    """Class lines as (sand, clay) ends, without the three sides of the triangle."""
    lines = []
    for corners in polygons.values():
        for a, b in zip(corners, (*corners[1:], corners[0]), strict=True):
            if not any(a[part] == b[part] == 0 for part in range(3)):
                lines.append(((a[0], a[2]), (b[0], b[2])))
    return tuple(lines)


_USDA_LINES = inner_lines(USDA_POLYGONS)
