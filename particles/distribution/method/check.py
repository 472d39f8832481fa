"""Whether a laboratory's own edition makes sense, before it is used."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from itertools import pairwise
from math import isfinite

from particles.distribution.errors import EditionError
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.possible import LEAST_DRAWS, LONGEST_SCHEDULE_S
from particles.distribution.record import stored_name
from particles.distribution.texture.systems import TEXTURE_SYSTEMS

_RISING = (
    ("noise_warn_sd", "noise_stop_sd"),
    ("blank_moved_warn_c", "blank_apart_warn_c"),
    ("blank_apart_warn_c", "blank_apart_wide_c"),
    ("rise_warn_g_l", "rise_stop_g_l"),
    ("rise_warn_sd", "rise_stop_sd"),
    ("adjustment_warn_pct", "adjustment_stop_pct"),
    ("join_warn_pct", "join_stop_pct"),
    ("moisture_usual_pct", "moisture_most_pct"),
)
"""Pairs of limits of which the first must not exceed the second."""
_SAND_SIEVE_SHARES = (0.9, 1.1)
"""Openings, as shares of the sand limit, that a sieve of it may have; *common practice* is 53 for 50 µm."""
_NEGATIVE = ("negative_stop_g_l", "negative_fraction_pct")
"""Limits that must not lie above zero."""
_NEVER_EXACT = ("reading_g_l", "mass_g")
"""Input uncertainties that no edition may leave out."""
LEAST_SILT_SPAN = 4.0
"""Sand limit per clay limit, at least: 20 for 5 µm is the narrowest in use, from memory. [-]"""
MOST_EXTRAPOLATION = 1.3
"""No edition may extend the curve further than this factor in diameter; common practice."""


def validate_edition(edition: MethodEdition) -> None:
    """EditionError that lists everything wrong with an edition; nothing when it makes sense."""
    faults = [
        *_names(edition),
        *_times(edition),
        *_sizes(edition),
        *_systems(edition),
        *_limits(edition.limits),
    ]
    if faults:
        raise EditionError(
            f"The method edition {edition.code or 'without a code'} contradicts itself: {'; '.join(faults)}",
            f"{len(faults)} {'fault' if len(faults) == 1 else 'faults'}",
            "Correct the edition before it is used.",
        )


def _names(edition: MethodEdition) -> Iterator[str]:
    for name in ("code", "title", "edition_on"):
        if not getattr(edition, name).strip():
            yield f"{name} is empty"
    if edition.follows == edition.code:
        yield "it cannot follow itself"
    if not edition.sources:
        yield "no source is named"
    if edition.draws != 0 and edition.draws < LEAST_DRAWS:
        yield f"{edition.draws} draws are too few"
    if not (isfinite(edition.dispersion_sd_pct) and edition.dispersion_sd_pct >= 0.0):
        yield f"dispersion_sd_pct {edition.dispersion_sd_pct:g} is no number of zero or more"
    for each in fields(edition.uncertainties):
        size = getattr(edition.uncertainties, each.name)
        if not (isfinite(size) and size >= 0.0):
            yield f"uncertainty {stored_name(each)} is no number of zero or more"
        elif size == 0.0 and each.name in _NEVER_EXACT:
            yield f"uncertainty {stored_name(each)} is zero, which nothing read or weighed is"


def _times(edition: MethodEdition) -> Iterator[str]:
    if not edition.schedule_s:
        yield "the schedule is empty"
    elif edition.schedule_s[0] <= 0.0 or edition.schedule_s[-1] > LONGEST_SCHEDULE_S:
        yield "the schedule must lie between 0 s and 7 days"
    if any(b <= a for a, b in pairwise(edition.schedule_s)):
        yield "the schedule does not rise"
    if any(b <= a for (a, _), (b, _) in pairwise(edition.windows)):
        yield "the windows do not rise in time"
    for nominal_s in edition.schedule_s:
        if not 0.0 < edition.window_s(nominal_s) < nominal_s:
            yield f"the window of {edition.window_s(nominal_s):g} s at {nominal_s:g} s leaves no time"
    for before, after in pairwise(edition.schedule_s):
        if before + edition.window_s(before) >= after - edition.window_s(after):
            yield f"the windows of {before:g} s and {after:g} s overlap"
    if not 0 <= edition.least_points <= len(edition.schedule_s):
        yield f"{edition.least_points} points cannot come from {len(edition.schedule_s)} readings"
    if edition.blank_window_s <= 0.0:
        yield "blank_window_s is not above zero"
    if edition.soak_minimum_h < 0.0:
        yield "soak_minimum_h is below zero"
    if edition.soak_maximum_h < edition.soak_minimum_h:
        yield "soak_maximum_h lies below soak_minimum_h"


def _sizes(edition: MethodEdition) -> Iterator[str]:
    clay_um, sand_um = edition.clay_limit_um, edition.sand_limit_um
    if not 0.0 < clay_um < sand_um < 2000.0:
        yield f"clay limit {clay_um:g} µm, sand limit {sand_um:g} µm and 2000 µm do not rise"
    elif sand_um < LEAST_SILT_SPAN * clay_um:
        yield f"between {clay_um:g} and {sand_um:g} µm no silt can be told; {LEAST_SILT_SPAN:g} times is the least"
    factor = edition.widest_gap
    if factor is not None and not (isfinite(factor) and factor >= edition.limits.extrapolation_factor):
        yield f"widest_gap {factor:g} lies below the factor of extrapolation"
    low, high = edition.sand_sieve_openings_um
    least_um, most_um = (share * sand_um for share in _SAND_SIEVE_SHARES)
    if not low <= high or not least_um <= low or not high <= most_um:
        yield f"sieves of {low:g} to {high:g} µm cannot stand for the sand limit of {sand_um:g} µm"


def _systems(edition: MethodEdition) -> Iterator[str]:
    for code in (edition.texture_system, *edition.also_systems, *edition.confirmed_systems):
        if code not in TEXTURE_SYSTEMS:
            yield f"no texture system {code!r}"


def _limits(limits: QualityLimits) -> Iterator[str]:
    for each in fields(limits):
        value = getattr(limits, each.name)
        numbers = value if isinstance(value, tuple) else (value,)
        if not all(isfinite(number) for number in numbers):
            yield f"{each.name} is not a number"
        elif len(numbers) == 2 and not numbers[0] < numbers[1]:
            yield f"{each.name} {numbers[0]:g} to {numbers[1]:g} does not rise"
        elif len(numbers) == 1 and each.name not in _NEGATIVE and numbers[0] <= 0.0:
            yield f"{each.name} must be above zero"
        elif each.name in _NEGATIVE and numbers[0] > 0.0:
            yield f"{each.name} must not be above zero"
    for lower, higher in _RISING:
        if getattr(limits, lower) > getattr(limits, higher):
            yield f"{lower} lies above {higher}"
    usual, possible = limits.blank_usual_g_l, limits.blank_possible_g_l
    if not possible[0] <= usual[0] < usual[1] <= possible[1]:
        yield "blank_usual_g_l does not lie within blank_possible_g_l"
    if not 1.0 <= limits.extrapolation_factor <= MOST_EXTRAPOLATION:
        yield f"extrapolation_factor must lie between 1 and {MOST_EXTRAPOLATION:g}"
    if limits.portion_excess < 1.0:
        yield "portion_excess must be 1 or more"
