"""
The curve of percent finer against diameter: smoothing, reading off, joining.

Rule of interpolation: straight in percent against the logarithm of the diameter (common practice), or a monotone
cubic there, as the edition says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, log

from particles.distribution.answer import CurvePoint, SizeDistribution
from particles.distribution.curve.interpolation import read_between
from particles.distribution.method.limits import STANDARD_LIMITS
from particles.distribution.record import Interpolation

EXTRAPOLATION_FACTOR = STANDARD_LIMITS.extrapolation_factor
"""How far beyond the outermost point a limit may lie unless an edition says otherwise. [-]"""


def non_rising(percents: Sequence[float]) -> list[float]:
    """
    Closest curve that never rises: isotonic least squares, equal weights, by pooling neighbours.

    Parameters
    ----------
    percents : (n,) percent finer in order of falling diameter. [%]

    Returns
    -------
    (n,) lines up with percents. [%]
    """
    blocks: list[tuple[float, int]] = []
    for percent in percents:
        mean, count = percent, 1
        while blocks and blocks[-1][0] < mean:
            other, n = blocks.pop()
            mean, count = (other * n + mean * count) / (n + count), n + count
        blocks.append((mean, count))
    return [mean for mean, count in blocks for _ in range(count)]


@dataclass(frozen=True, slots=True)
class ReadOff:
    """Percent finer at a limit, and whether it lies beyond the points."""

    percent: float
    extrapolated_factor: float
    """1 inside the points; otherwise how far outside, as a ratio of diameters."""


def percent_finer_at(
    diameters_um: Sequence[float],
    percents: Sequence[float],
    limit_um: float,
    rule: Interpolation = Interpolation.STRAIGHT,
    factor: float = EXTRAPOLATION_FACTOR,
) -> ReadOff | None:
    """
    Percent finer at a limit.

    Parameters
    ----------
    diameters_um : (n,) falling. [µm]
    percents : (n,) lines up with diameters_um. [%]
    limit_um : where to read. [µm]
    rule : between the points; beyond them the outermost line is extended.
    factor : how far beyond, as a ratio of diameters. [-]

    Returns
    -------
    None when the limit lies further than factor beyond the points, or with fewer than two points.
    """
    if len(diameters_um) < 2:
        return None
    beyond = max(limit_um / diameters_um[0], diameters_um[-1] / limit_um, 1.0)
    if beyond > factor:
        return None
    return ReadOff(read_between(diameters_um, percents, limit_um, rule), beyond)


def percent_finer_at_size(
    curve: Sequence[CurvePoint] | SizeDistribution,
    sizes_um: Sequence[float],
    rule: Interpolation = Interpolation.STRAIGHT,
) -> tuple[float | None, ...]:
    """
    Percent finer at any sizes, never beyond the points.

    Parameters
    ----------
    curve : (n,) in falling order of diameter, or a distribution, of which the joined curve is taken.
    sizes_um : (m,) in any order. [µm]

    Returns
    -------
    (m,) lines up with sizes_um; None where not determined. [%]
    """
    points = curve.curve if isinstance(curve, SizeDistribution) else curve
    sizes, percents = [p.diameter_um for p in points], [p.read_pct for p in points]
    read = (percent_finer_at(sizes, percents, size_um, rule, factor=1.0) for size_um in sizes_um)
    return tuple(None if at is None else at.percent for at in read)


def diameter_at_um(
    curve: Sequence[CurvePoint], percent: float, rule: Interpolation = Interpolation.STRAIGHT
) -> float | None:
    """Diameter [µm] at which the curve, taken from its coarse end, first falls to a percent; else None."""
    for k, (coarse, fine) in enumerate(pairwise(curve)):
        if coarse.read_pct >= percent >= fine.read_pct:
            drop = coarse.read_pct - fine.read_pct
            if rule is Interpolation.MONOTONE_CUBIC and drop:
                return _bisected_um(curve, k, percent)
            share = (coarse.read_pct - percent) / drop if drop else 0.0
            return exp(log(coarse.diameter_um) + share * log(fine.diameter_um / coarse.diameter_um))
    return None


def _bisected_um(curve: Sequence[CurvePoint], k: int, percent: float) -> float:
    sizes, percents = [p.diameter_um for p in curve], [p.read_pct for p in curve]
    coarse, fine = log(sizes[k]), log(sizes[k + 1])
    for _ in range(60):
        middle = (coarse + fine) / 2.0
        above = read_between(sizes, percents, exp(middle), Interpolation.MONOTONE_CUBIC) > percent
        coarse, fine = (middle, fine) if above else (coarse, middle)
    return exp(coarse)


@dataclass(frozen=True, slots=True)
class Grading:
    """Diameters at a percent finer, and their ratios; None, not determined, where the curve does not reach."""

    d10_um: float | None
    d30_um: float | None
    d50_um: float | None
    d60_um: float | None
    uniformity: float | None
    """Cu = D60 / D10."""
    curvature: float | None
    """Cc = D30² / (D10 D60)."""
    d16_um: float | None = None
    d84_um: float | None = None
    d90_um: float | None = None


def grading(curve: Sequence[CurvePoint], rule: Interpolation = Interpolation.STRAIGHT) -> Grading:
    """Characteristic diameters of a curve in falling order of diameter."""
    wanted = (10.0, 30.0, 50.0, 60.0, 16.0, 84.0, 90.0)
    d10, d30, d50, d60, d16, d84, d90 = (diameter_at_um(curve, percent, rule) for percent in wanted)
    uniformity = d60 / d10 if d10 and d60 else None
    curvature = d30**2 / (d10 * d60) if d10 and d30 and d60 else None
    return Grading(d10, d30, d50, d60, uniformity, curvature, d16, d84, d90)


def joined_curve(sieve: Sequence[CurvePoint], hydrometer: Sequence[CurvePoint]) -> tuple[CurvePoint, ...]:
    """
    Sieve points, then the hydrometer points finer than the finest sieve.

    Every point stays as it is. One above what passed the finest sieve, of which no more can be finer, is read for
    figures at what passed (`CurvePoint.held_pct`); a step down at the join is read as it is.
    """
    if not sieve:
        return tuple(hydrometer)
    finest = sieve[-1]
    below = (point for point in hydrometer if point.diameter_um < finest.diameter_um)
    return (*sieve, *(_held(point, finest.percent_finer) for point in below))


def _held(point: CurvePoint, passed_pct: float) -> CurvePoint:
    return replace(point, held_pct=passed_pct) if point.percent_finer > passed_pct else point
