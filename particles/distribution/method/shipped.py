"""
The editions of methods that the program ships with, every earlier one kept.

Times, limits and corrections are *common practice* where no source is named; `sources` is printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from particles.distribution.errors import UnknownMethodError
from particles.distribution.method.edition import InputUncertainties, MethodEdition

_COMMON = (
    "Times and limits: common practice of soil laboratories",
    "Size limits 2, 50 and 2000 µm: USDA Soil Survey Manual, Handbook 18 (2017), chapter 3",
    "Effective depth and concentration from hydrometer geometry; Stokes 1851; water by Tanaka 2001 and "
    "Kestin 1978 (from memory, checked against IAPWS)",
)


_FOUR_READINGS = InputUncertainties(reading_off_share=0.65)
"""Gaps of a factor 9 and 4 in diameter leave more uncertain than the bend of so few points shows."""


_SHARES = {4: 0.75, 9: 0.65}
"""Number of readings -> share, where nothing lies between 2 h and 24 h: blanks read anew blur the bend."""


_LEAST_POINTS = {4: 3, 7: 5, 8: 6, 9: 6, 10: 7}
"""Number of readings -> how many of them make a curve: two of three, rounded up. *Common practice*."""
_WIDEST_GAP = 4.0
"""What a sound run of four readings leaves between 1.5 h and 24 h: sizes go with the root of time. [-]"""


def _editions() -> dict[str, MethodEdition]:
    first = _first_editions()
    second = [_second(each) for each in first if each.certifiable]
    third = [_third(each) for each in second]
    return {each.code: each for each in (*first, *second, *third, *map(_fourth, third))}


def _second(edition: MethodEdition) -> MethodEdition:
    """More draws, and reading off calibrated anew."""
    uncertainties = _FOUR_READINGS if len(edition.schedule_s) == 4 else edition.uncertainties
    return replace(
        edition,
        code=edition.code.replace("2026-1", "2026-2"),
        edition_on="2026-11-25",
        draws=10_000,
        uncertainties=uncertainties,
        follows=edition.code,
    )


def _third(edition: MethodEdition) -> MethodEdition:
    """Uncertain blanks at every reading, openings and thermometers, and sand at its limit (decision 0008)."""
    uncertainties = replace(
        edition.uncertainties,
        blank_g_l=0.1,
        blank_reading_g_l=0.35,
        thermometer_c=0.2,
        sieve_opening_pct=2.0,
        reading_off_share=_SHARES.get(len(edition.schedule_s), edition.uncertainties.reading_off_share),
    )
    return replace(
        edition,
        code=edition.code.replace("2026-2", "2026-3"),
        uncertainties=uncertainties,
        limits=replace(edition.limits, fast_fall_pct_per_halving=60.0),
        sand_at_limit=True,
        follows=edition.code,
    )


def _fourth(edition: MethodEdition) -> MethodEdition:
    """
    What a curve and each size limit need, and fewer equal readings where few are taken (decision 0011).

    A blank by physics and not by minutes (decision 0013).
    """
    slots = len(edition.schedule_s)
    stuck = min(edition.limits.stuck_readings, slots - 1)
    return replace(
        edition,
        code=edition.code.replace("2026-3", "2026-4"),
        edition_on="2026-11-27",
        least_points=_LEAST_POINTS[slots],
        widest_gap=_WIDEST_GAP,
        limits=replace(edition.limits, stuck_readings=stuck),
        blank_by_physics=True,
        follows=edition.code,
    )


def _first_editions() -> tuple[MethodEdition, ...]:
    return (
        MethodEdition(
            "hydrometer-nine-2026-1",
            "Hydrometer, nine readings to 24 h, measured blank",
            "2026-01-05",
            (30.0, 60.0, 180.0, 600.0, 1800.0, 3600.0, 5400.0, 7200.0, 86400.0),
            sources=_COMMON,
        ),
        MethodEdition(
            "hydrometer-four-2026-1",
            "Hydrometer, four readings to 24 h, measured blank",
            "2026-01-05",
            (30.0, 60.0, 5400.0, 86400.0),
            sources=_COMMON,
        ),
        MethodEdition(
            "hydrometer-engineering-2026-1",
            "Hydrometer, engineering schedule of 2 min to 24 h, measured blank",
            "2026-01-05",
            (120.0, 300.0, 900.0, 1800.0, 3600.0, 15000.0, 86400.0),
            sources=(*_COMMON, "Schedule 2, 5, 15, 30, 60, 250, 1440 min: from memory"),
        ),
        MethodEdition(
            "hydrometer-standard-eight-2026-1",
            "Hydrometer, eight readings of 1 min to 24 h, measured blank",
            "2026-01-05",
            (60.0, 120.0, 240.0, 900.0, 1800.0, 3600.0, 14400.0, 86400.0),
            sources=(*_COMMON, "Schedule 1, 2, 4, 15, 30, 60, 240, 1440 min: from memory"),
        ),
        MethodEdition(
            "hydrometer-ten-2026-1",
            "Hydrometer, ten readings of 30 s to 24 h, measured blank",
            "2026-01-05",
            (30.0, 60.0, 180.0, 600.0, 1800.0, 3600.0, 5400.0, 14400.0, 28800.0, 86400.0),
            sources=(
                *_COMMON,
                "Schedule 30 s, 1, 3, 10, 30 min, 1, 1.5, 4, 8, 24 h (G. W. Gee and J. W. Bauder 1986): "
                "from memory",
            ),
        ),
        MethodEdition(
            "two-reading-2026-1",
            "Two readings at 40 s and 2 h, by time and not by size",
            "2026-01-05",
            (40.0, 7200.0),
            sources=(_COMMON[0], "Reading at 2 h holds particles finer than about 5 µm, not 2 µm"),
            certifiable=False,
        ),
    )


METHOD_EDITIONS: Mapping[str, MethodEdition] = MappingProxyType(_editions())
"""Code -> edition, those that another follows included: what was computed by them can be computed again."""

DEFAULT_METHOD_CODE = "hydrometer-nine-2026-4"


def method_edition(code: str) -> MethodEdition:
    """The edition with this code; UnknownMethodError names the known ones."""
    if code not in METHOD_EDITIONS:
        raise UnknownMethodError(
            "No method edition has this code", code, f"Known: {', '.join(METHOD_EDITIONS)}."
        )
    return METHOD_EDITIONS[code]
