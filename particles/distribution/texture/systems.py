"""
Every texture system on offer: its size limits, its class polygons, whether they were read or remembered.

A system is only ever given fractions at its own limits. Those from memory are reported when a laboratory has
checked them against its own copy and says so in its edition. On a class line the finer class decides: the one
with more clay, and where the line runs along more clay, with more silt; for the USDA its written rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from particles.distribution.answer import TextureClass
from particles.distribution.errors import UnknownTextureError
from particles.distribution.texture import corners as polygons
from particles.distribution.texture.corners import USDA_POLYGONS
from particles.distribution.texture.usda import (
    Floats,
    inner_lines,
    near_a_line,
    onto_triangle,
    usda_codes,
    usda_rules,
)

_STEP_PCT = 1e-6
"""How far a point is moved towards the finer classes, so that none lies on a line; then a tenth towards silt."""


@dataclass(frozen=True, slots=True, eq=False)
class TextureSystem:
    """One texture system: its triangle, size limits and classes."""

    code: str
    title: str
    sand_limit_um: float
    confirmed: bool
    """True when the lines were read at a source, False when they are from memory."""
    source: str
    polygons: Mapping[str, polygons.Corners]
    """Class -> corners as (sand, silt, clay). [%]"""
    clay_limit_um: float = 2.0

    @property
    def classes(self) -> tuple[str, ...]:
        """Names, in the order that the codes of `classify` count."""
        return tuple(self.polygons)


_MEMORY = "from memory: "


def _systems() -> dict[str, TextureSystem]:
    listed = (
        TextureSystem(
            "USDA",
            "USDA, 12 classes",
            50.0,
            True,
            "Soil Survey Manual, USDA Handbook 18 (2017), chapter 3, written rules",
            USDA_POLYGONS,
        ),
        TextureSystem(
            "WRB_FAO",
            "WRB 2022 and FAO, the USDA classes with sand above 63 µm",
            63.0,
            False,
            f"{_MEMORY}IUSS WRB (2022), annex on field texture; limits of ISO 11277",
            USDA_POLYGONS,
        ),
        TextureSystem(
            "FAO_2006",
            "FAO 2006, 13 classes with heavy clay",
            63.0,
            False,
            f"{_MEMORY}FAO (2006), Guidelines for soil description, figure 4",
            polygons.HEAVY_CLAY_POLYGONS,
        ),
        TextureSystem(
            "CANADA",
            "Canada, 13 classes with heavy clay",
            50.0,
            False,
            f"{_MEMORY}Canadian System of Soil Classification (1998)",
            polygons.HEAVY_CLAY_POLYGONS,
        ),
        TextureSystem(
            "EU_FAO5",
            "FAO 1974 and Soil Map of Europe, 5 classes",
            50.0,
            False,
            f"{_MEMORY}FAO 1974 texture classes, as in Wösten et al. 1999",
            polygons.EU_FAO5_POLYGONS,
        ),
        TextureSystem(
            "UK",
            "England and Wales, 11 classes",
            60.0,
            False,
            f"{_MEMORY}Soil Survey Field Handbook; Avery 1980",
            polygons.UK_POLYGONS,
        ),
        TextureSystem(
            "GERMANY_KA5",
            "Germany, Bodenkundliche Kartieranleitung 5, 31 classes",
            63.0,
            True,
            "corners read in a public table of a geographic information system",
            polygons.GERMANY_KA5_POLYGONS,
        ),
        TextureSystem(
            "BELGIUM",
            "Belgium, 7 classes by letter",
            50.0,
            True,
            "corners read in a public table of a geographic information system, some digitised, so to about 1 %",
            polygons.BELGIUM_POLYGONS,
        ),
        TextureSystem(
            "ISSS",
            "International, 12 classes with sand above 20 µm",
            20.0,
            False,
            f"{_MEMORY}class ranges as in Japanese soil survey; limits in Shaw and Miles 1940",
            polygons.ISSS_POLYGONS,
        ),
        TextureSystem(
            "BRAZIL",
            "Brazil, 5 texture groups",
            50.0,
            False,
            f"{_MEMORY}Sistema Brasileiro de Classificação de Solos",
            polygons.BRAZIL_POLYGONS,
        ),
    )
    return {system.code: system for system in listed}


TEXTURE_SYSTEMS: Mapping[str, TextureSystem] = MappingProxyType(_systems())
"""Code -> system."""


def texture_system(code: str) -> TextureSystem:
    """The system with this code; UnknownTextureError names the known ones."""
    if code not in TEXTURE_SYSTEMS:
        raise UnknownTextureError(
            "No texture system has this code", code, f"Known: {', '.join(TEXTURE_SYSTEMS)}."
        )
    return TEXTURE_SYSTEMS[code]


def classify(system: TextureSystem, sand: Floats, silt: Floats, clay: Floats) -> NDArray[np.intp]:
    """
    Index into system.classes for each point.

    Parameters
    ----------
    sand, silt, clay : (n,) percent at the system's own limits, not negative, adding up to 100. [%]

    Returns
    -------
    (n,) integers, line up with the inputs.
    """
    if system.code == "USDA":
        return usda_codes(sand, silt, clay)
    x, y = towards_finer(np.round(sand, 9), np.round(clay, 9))
    codes = np.full(x.shape, -1, dtype=np.intp)
    for code, corners in enumerate(system.polygons.values()):
        codes[inside(x, y, corners)] = code
    assert (codes >= 0).all(), (
        f"the polygons of {system.code} leave a gap, or a point lies outside the triangle"
    )
    return codes


def class_counts(system: TextureSystem, sand: Floats, silt: Floats, clay: Floats) -> NDArray[np.intp]:
    """How many points fall into each of system.classes; arguments as `classify`."""
    if system.code == "USDA":
        return np.array([np.count_nonzero(met) for met in usda_rules(sand, silt, clay)])
    return np.bincount(classify(system, sand, silt, clay), minlength=len(system.classes))


def towards_finer(sand: Floats, clay: Floats) -> tuple[Floats, Floats]:
    """Points moved off every line: to more clay and a little more silt, on the sand-free side to more clay."""
    room = sand >= 2.0 * _STEP_PCT
    x = np.where(room, sand - 1.1 * _STEP_PCT, 0.1 * _STEP_PCT)
    # At the corner of pure clay there is no finer side left, only the inside of the triangle.
    y = np.minimum(clay + _STEP_PCT, 100.0 - x - 0.1 * _STEP_PCT)
    return x, y


def inside(x: Floats, y: Floats, corners: polygons.Corners) -> NDArray[np.bool_]:
    """Which points (sand, clay) lie inside a ring, by counting crossings; none may lie on it."""
    held = np.zeros(x.shape, dtype=bool)
    for (ax, _, ay), (bx, _, by) in pairwise((*corners, corners[0])):
        if ay != by:
            crosses = (ay > y) != (by > y)
            held ^= crosses & (x < ax + (y - ay) / (by - ay) * (bx - ax))
    return held


def texture_of(system: TextureSystem, sand_pct: float, silt_pct: float, clay_pct: float) -> TextureClass:
    """Class of one soil from its unrounded fractions at the system's own limits. [%]"""
    parts = onto_triangle(*(np.array([part]) for part in (sand_pct, silt_pct, clay_pct)))
    sand, silt, clay = (np.round(part, 9) for part in parts)
    name = system.classes[int(classify(system, sand, silt, clay)[0])]
    return TextureClass(system.code, name, near_a_line(float(sand[0]), float(clay[0]), _LINES[system.code]))


_LINES = {code: inner_lines(system.polygons) for code, system in TEXTURE_SYSTEMS.items()}
