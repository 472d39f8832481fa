"""
The mass that was probably meant for the portions of a batch that nobody stated an aim for.

It is what the advice said where the batch follows it, else what the laboratory weighs by habit.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from statistics import median

FOLLOWED_WITHIN_PCT = 6.0
"""A portion follows the advice within this. *Common practice*. [% of the mass]"""
FOLLOWED_SHARE = 2.0 / 3.0
"""The advice is what was asked for when at least so many of the portions follow it. [-]"""
HABIT_WITHIN_PCT = 2.0
"""Portions weighed to one mass lie within this of each other. *Common practice*. [% of the mass]"""
HABIT_LEAST = 3
"""Fewer portions of one mass are no habit. *Common practice*."""


def asked_masses_g(
    weighed_g: Sequence[float | None], advised_g: Sequence[float | None]
) -> list[float | None]:
    """
    The mass that each portion was probably meant to have.

    Parameters
    ----------
    weighed_g : (n,) air-dry masses of the portions of one batch; None for one without a mass. [g]
    advised_g : (n,) what the weighing page advised; None where it advised nothing. [g]

    Returns
    -------
    (n,) the advice where the batch, or this portion, follows it; else, where most portions are weighed to masses that
    at least three of them share, the nearest of these; None where neither tells. [g]

    >>> asked_masses_g([50.1, 49.8, 42.5, 30.2], [50.0, 50.0, 50.0, 30.0])
    [50.0, 50.0, 50.0, 30.0]
    >>> asked_masses_g([40.0, 40.1, 39.9, 34.0], [50.0, 50.0, 30.0, 80.0])
    [40.0, 40.0, 40.0, 40.0]
    """
    both = [(w, a) for w, a in zip(weighed_g, advised_g, strict=True) if w and a]
    near = [w for w, a in both if _apart_pct(w, a) <= FOLLOWED_WITHIN_PCT]
    follows = bool(both) and len(near) >= FOLLOWED_SHARE * len(both)
    habits = _habits([w for w in weighed_g if w])
    asked: list[float | None] = []
    for weighed, advised in zip(weighed_g, advised_g, strict=True):
        if advised and (follows or (weighed and _apart_pct(weighed, advised) <= FOLLOWED_WITHIN_PCT)):
            asked.append(advised)
        elif weighed and habits:
            asked.append(min(habits, key=lambda habit: _apart_pct(weighed, habit)))
        else:
            asked.append(None)
    return asked


def _apart_pct(one_g: float, other_g: float) -> float:
    return 100.0 * abs(log(one_g / other_g))


def _habits(weighed_g: Sequence[float]) -> list[float]:
    """Masses that at least three portions share, if most portions have such a mass; each is their median. [g]"""
    found = []
    for mass_g in weighed_g:
        alike = [w for w in weighed_g if _apart_pct(w, mass_g) <= HABIT_WITHIN_PCT]
        if len(alike) >= HABIT_LEAST:
            found.append(median(alike))
    return found if len(found) >= FOLLOWED_SHARE * len(weighed_g) else []
