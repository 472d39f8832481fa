"""Plain statements that belong beside the figures on paper."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import SizePoint, TextureClass
from particles.distribution.explained.gaps import lies_in_wide_gap
from particles.distribution.inputs.between_run import BetweenRunSds
from particles.distribution.inputs.portion import PortionMass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ClayExtrapolation, Interpolation, RunRecord
from particles.distribution.sieves.gravel import gravel_pct
from particles.distribution.sieves.stack import sand_sieve
from particles.distribution.texture.subclasses import FROM_MEMORY
from particles.distribution.texture.usda import USDA_LIMITS_UM

_BY_RULE = (
    "Texture class from unrounded figures by the written USDA rules, which also decide on a class line."
)
_UNEVEN = (
    "Between readings the curve is taken to bend as it does beside them, so a figure read off straight need not "
    "lie in the middle of its interval. "
)
_WIDE_GAP = (
    "No reading lies near the clay limit: a narrow heap of grains between the readings on either side of it would not "
    "show, and clay could then lie outside its interval; a reading near 8 h would show it."
)
UNCONFIRMED = "rules from memory, to be confirmed"
"""Ends a note on a class by rules nobody has read at their source: for the laboratory, never for a certificate."""
_BY_TIME = (
    "Figures are named by the time of reading; their diameters stand beside them. Sand, silt and clay at size limits "
    "and a texture class are not given: no reading reaches the clay limit."
)
_ONE_READING = (
    "One reading tells what is coarser and finer than its own size: no curve, silt, clay or texture class."
)
_NO_CLASS = "No texture class: the USDA triangle holds for limits of 2 and 50 µm only."


def notes(
    record: RunRecord,
    method: MethodEdition,
    mass: PortionMass | None,
    points: Sequence[SizePoint],
    draws: int,
    texture: TextureClass | None = None,
    between: BetweenRunSds | None = None,
) -> tuple[str, ...]:
    """Statements on what the figures refer to, how they were read off, and what the uncertainty covers."""
    stated = ["Percent by mass of the fine earth (below 2 mm), oven-dry."]
    if mass is not None:
        stated.append(f"Portion mass {mass.mass_g:.2f} g ({mass.basis}).")
    measured = "measured" if record.particle_density_measured else "assumed"
    stated.append(f"Particle density {record.particle_density_g_cm3:.2f} g/cm³ ({measured}).")
    stated.append(f"Readings corrected by: {record.correction}.")
    if record.blanks:
        stated.append(_served_by(record))
    if record.hydrometer.scale_corrections:
        stated.append("Readings and blanks carry the scale corrections of the hydrometer's calibration.")
    stated.append(_reading_off(method))
    if record.sieving and record.sieving.portion_oven_dry_mass_g is not None:
        own_g = record.sieving.portion_oven_dry_mass_g
        stated.append(f"Sand was sieved from another portion of {own_g:.2f} g, oven-dry.")
    if (opening_um := _other_sand_opening_um(record, method)) is not None:
        stated.append(
            f"Sand was weighed on a sieve of {opening_um:g} µm: what lies between it and the limit of "
            f"{method.sand_limit_um:g} µm {_beside_the_limit(method, opening_um)}"
        )
    gravel = gravel_pct(record)
    if gravel is not None:
        stated.append(f"Gravel, {gravel:.1f} % of the whole sample, is not part of these figures.")
        stated.append("The curve of the whole sample, gravel included, is given apart.")
    if method.certifiable:
        stated.append(
            f"Clay below {method.clay_limit_um:g} µm, sand above {method.sand_limit_um:g} µm, "
            "silt by difference."
        )
        usda = (method.clay_limit_um, method.sand_limit_um) == USDA_LIMITS_UM
        stated.append(_BY_RULE if usda else _NO_CLASS)
        if texture is not None and texture.subclass:
            stated.append(_subclass(texture))
    else:
        stated.append(_BY_TIME)
    if len(points) == 1:
        stated.append(_ONE_READING)
    if method.certifiable and lies_in_wide_gap(points, method.clay_limit_um):
        stated.append(_WIDE_GAP)
    if draws and between is not None:
        stated.append(
            f"95 % intervals from {draws} Monte Carlo draws over reading, blank, mass, density, depth, "
            "time, volume, temperature, sieves and reading off between points, with "
            f"{_between(between)} percentage points between runs ({_whose(record)}). "
            f"{_UNEVEN if method.interpolation is Interpolation.STRAIGHT else ''}"
            "Draws below zero count as they are in the intervals; for the class chances they are moved "
            "to the nearest point of the triangle."
        )
    return tuple(stated)


def _other_sand_opening_um(record: RunRecord, method: MethodEdition) -> float | None:
    """Opening of the sieve that gave sand when it is not the sand limit itself. [µm]"""
    sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um)
    return None if sieve is None or sieve.opening_um == method.sand_limit_um else sieve.opening_um


def _beside_the_limit(method: MethodEdition, opening_um: float) -> str:
    if method.sand_at_limit:
        return "was brought over by the fall of the curve between the two."
    counted = "silt" if opening_um > method.sand_limit_um else "sand"
    return f"counts as {counted}; the interval is that of the limit and need not hold the figure."


def _between(between: BetweenRunSds) -> str:
    sand, clay = f"{between.sand_pct:.2g}", f"{between.clay_pct:.2g}"
    return sand if sand == clay else f"{sand} (sand) and {clay} (clay)"


def _whose(record: RunRecord) -> str:
    if (record.between_run_sd_pct, record.between_run_sand, record.between_run_clay) == (None, None, None):
        return "the method's figure"
    pairs = record.between_run_pairs
    return "from the laboratory's duplicates" + ("" if pairs is None else f", {pairs} pairs")


def _served_by(record: RunRecord) -> str:
    count = len(record.blanks)
    said = f"Every reading of the blank ({count}) serves each reading, weighed by time and temperature between them."
    if record.blank_dispersant_g_l is None:
        return said
    return (
        f"{said} Its cylinder held {record.blank_dispersant_g_l:.2f} g/L of dispersant, this one "
        f"{record.dispersant_g_l:.2f}: the blank was brought to it."
    )


def _reading_off(method: MethodEdition) -> str:
    factor = method.limits.extrapolation_factor
    between = "straight" if method.interpolation is Interpolation.STRAIGHT else "by a monotone cubic"
    beyond = f"limits up to a factor {factor:g} beyond the last point are extended and flagged."
    if method.clay_extrapolation is ClayExtrapolation.NONE:
        beyond = f"clay is never extended beyond the last point, sand up to a factor {factor:g} and flagged."
    elif method.clay_extrapolation is ClayExtrapolation.DAY_LINE:
        beyond = (
            f"clay up to a factor {factor:g} beyond the 24 h reading lies on its line through that at 1.5 h, "
            "flagged."
        )
    return f"Percent finer read off {between} against the logarithm of the diameter; {beyond}"


def _subclass(texture: TextureClass) -> str:
    rules = UNCONFIRMED if texture.name in FROM_MEMORY else "rules read in part"
    return (
        f"Subclass {texture.subclass} from the five sand separates, Soil Survey Manual chapter 3 ({rules})."
    )
