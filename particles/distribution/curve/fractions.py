"""Sand, silt and clay at stated limits, and their rounding for print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

from particles.distribution.answer import Estimate, Fractions, SizePoint
from particles.distribution.curve.beyond_last import clay_by_day_line
from particles.distribution.curve.points import read_at
from particles.distribution.curve.reading_off import ReadOff
from particles.distribution.curve.sand_at_limit import SievedSand, sieved_sand
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ClayExtrapolation, RunRecord
from particles.distribution.triple import with_silt_between


def clay_read_off(points: Sequence[SizePoint], method: MethodEdition) -> ReadOff | None:
    """Percent finer at the clay limit, beyond the last point by the edition's rule of extrapolation."""
    limit_um, factor = method.clay_limit_um, method.limits.extrapolation_factor
    rule = method.clay_extrapolation
    if rule is ClayExtrapolation.NONE:
        return read_at(points, method, limit_um, 1.0)
    at = read_at(points, method, limit_um, factor)
    if rule is ClayExtrapolation.FACTOR or at is None or at.extrapolated_factor == 1.0:
        return at
    return clay_by_day_line(points, limit_um, at.extrapolated_factor)


@dataclass(frozen=True, slots=True)
class LimitRead:
    """How one size limit was read off the points."""

    limit_um: float
    at: ReadOff | None
    """None when the limit cannot be reached."""
    nearest_um: float | None
    """The point nearest to the limit; None without points."""


@dataclass(frozen=True, slots=True)
class TakenFractions:
    """Sand, silt and clay of one run, and how they were come by."""

    fractions: Fractions | None
    """None when a limit is not reached."""
    clay: LimitRead
    sand: LimitRead | None
    """None when sand was weighed."""
    weighed: SievedSand | None
    """None when sand was read off."""
    sand_pct: float | None
    """Sand, whether or not clay is known; None when it is not determined. [%]"""


def take_fractions(
    record: RunRecord, method: MethodEdition, points: Sequence[SizePoint], portion_g: float
) -> TakenFractions:
    """
    Sand, silt (by difference) and clay without uncertainty.

    Parameters
    ----------
    points : (n,) smoothed, in any order.
    portion_g : oven-dry mass in the cylinder. [g]
    """
    clay = _limit_read(points, method.clay_limit_um, clay_read_off(points, method))
    weighed = sieved_sand(record, method, points, portion_g)
    settled = None if weighed is not None else _sand_read(points, method)
    sand_pct = _sand_pct(weighed, settled, method)
    if clay.at is None or sand_pct is None:
        return TakenFractions(None, clay, settled, weighed, sand_pct)
    percents = with_silt_between(sand_pct, clay.at.percent)
    fractions = Fractions(
        clay=Estimate(percents.clay),
        silt=Estimate(percents.silt),
        sand=Estimate(percents.sand),
        clay_limit_um=method.clay_limit_um,
        sand_limit_um=method.sand_limit_um,
        sand_by="hydrometer" if weighed is None else "sieve",
    )
    return TakenFractions(fractions, clay, settled, weighed, sand_pct)


def _limit_read(points: Sequence[SizePoint], limit_um: float, at: ReadOff | None) -> LimitRead:
    nearest_um = min((p.diameter_um for p in points), key=lambda d: abs(d - limit_um), default=None)
    return LimitRead(limit_um, at, nearest_um)


def _sand_read(points: Sequence[SizePoint], method: MethodEdition) -> LimitRead:
    limit_um = method.sand_limit_um
    at = read_at(points, method, limit_um, method.limits.extrapolation_factor)
    return _limit_read(points, limit_um, at)


def _sand_pct(weighed: SievedSand | None, settled: LimitRead | None, method: MethodEdition) -> float | None:
    """Sand as weighed, brought to the limit where the edition says so, or as read off. [%]"""
    if weighed is None:
        return None if settled is None or settled.at is None else 100.0 - settled.at.percent
    if not method.sand_at_limit:
        return weighed.retained_pct
    return None if weighed.between_pct is None else weighed.retained_pct + weighed.between_pct


def round_to_total(parts_pct: Sequence[float], decimals: int = 0) -> tuple[float, ...]:
    """
    Parts rounded for print so that they add up to their rounded total, by largest remainder.

    Parameters
    ----------
    parts_pct : (n,) unrounded, n >= 1. [%]
    decimals : digits after the point.

    Returns
    -------
    (n,) lines up with parts_pct. [%]
    """
    scale = 10**decimals
    scaled = [part * scale for part in parts_pct]
    floors = [floor(part) for part in scaled]
    spare = round(sum(scaled)) - sum(floors)
    by_remainder = sorted(range(len(scaled)), key=lambda k: floors[k] - scaled[k])
    for k in by_remainder[:spare]:
        floors[k] += 1
    return tuple(part / scale for part in floors)
