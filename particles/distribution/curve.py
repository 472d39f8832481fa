"""
The curve of percent finer against diameter: smoothing, reading off, joining.

Rule of interpolation: straight in percent against the logarithm of the diameter (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

from .quantities import CurvePoint

EXTRAPOLATION_FACTOR = 1.3
"""How far beyond the outermost point a limit may lie, as a ratio of diameters; common practice."""


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
    extrapolated_factor: float = 1.0
    """1 inside the points; otherwise how far outside, as a ratio of diameters."""


def percent_finer_at(
    diameters_um: Sequence[float], percents: Sequence[float], limit_um: float
) -> ReadOff | None:
    """
    Percent finer at a limit, straight in log diameter.

    Parameters
    ----------
    diameters_um : (n,) falling. [µm]
    percents : (n,) lines up with diameters_um. [%]
    limit_um : where to read. [µm]

    Returns
    -------
    None when the limit lies more than EXTRAPOLATION_FACTOR beyond the points, or with fewer than two points.
    """
    n = len(diameters_um)
    if n < 2:
        return None
    beyond = max(limit_um / diameters_um[0], diameters_um[-1] / limit_um, 1.0)
    if beyond > EXTRAPOLATION_FACTOR:
        return None
    k = min(max(sum(d > limit_um for d in diameters_um) - 1, 0), n - 2)
    share = log(limit_um / diameters_um[k]) / log(diameters_um[k + 1] / diameters_um[k])
    return ReadOff(percents[k] + share * (percents[k + 1] - percents[k]), beyond)


def diameter_at_um(curve: Sequence[CurvePoint], percent: float) -> float | None:
    """Diameter [µm] at which the curve, taken from its coarse end, first falls to a percent; else None."""
    for coarse, fine in pairwise(curve):
        if coarse.percent_finer >= percent >= fine.percent_finer:
            drop = coarse.percent_finer - fine.percent_finer
            share = (coarse.percent_finer - percent) / drop if drop else 0.0
            return exp(log(coarse.diameter_um) + share * log(fine.diameter_um / coarse.diameter_um))
    return None


@dataclass(frozen=True, slots=True)
class Grading:
    """Diameters at 10, 30, 50 and 60 % finer, and their ratios; None where the curve does not reach."""

    d10_um: float | None
    d30_um: float | None
    d50_um: float | None
    d60_um: float | None
    uniformity: float | None
    """Cu = D60 / D10."""
    curvature: float | None
    """Cc = D30² / (D10 D60)."""


def grading(curve: Sequence[CurvePoint]) -> Grading:
    """Characteristic diameters of a curve in falling order of diameter."""
    d10, d30, d50, d60 = (diameter_at_um(curve, p) for p in (10.0, 30.0, 50.0, 60.0))
    uniformity = d60 / d10 if d10 and d60 else None
    curvature = d30**2 / (d10 * d60) if d10 and d30 and d60 else None
    return Grading(d10, d30, d50, d60, uniformity, curvature)


def joined_curve(sieve: Sequence[CurvePoint], hydrometer: Sequence[CurvePoint]) -> tuple[CurvePoint, ...]:
    """Sieve points, then the hydrometer points finer than the finest sieve. A step at the join stays."""
    if not sieve:
        return tuple(hydrometer)
    finest_um = sieve[-1].diameter_um
    return (*sieve, *(point for point in hydrometer if point.diameter_um < finest_um))
