"""
Reading a curve off between its points, straight or by a monotone cubic, both in log diameter.

Source: F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, harmonic-mean slopes with the
customary three-point ends; from memory, checked against an independent implementation in the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import log

from particles.distribution.record import Interpolation


def segment_of(diameters_um: Sequence[float], size_um: float) -> int:
    """Index of the coarse end of the segment that holds a size, or of the outermost one beyond the points."""
    return min(max(sum(d > size_um for d in diameters_um) - 1, 0), len(diameters_um) - 2)


def read_between(
    diameters_um: Sequence[float],
    percents: Sequence[float],
    size_um: float,
    rule: Interpolation = Interpolation.STRAIGHT,
) -> float:
    """
    Percent finer at a size; beyond the points the outermost straight line is extended, whatever the rule. [%]

    Parameters
    ----------
    diameters_um : (n,) falling, n >= 2. [µm]
    percents : (n,) lines up with diameters_um. [%]
    """
    k = segment_of(diameters_um, size_um)
    share = log(size_um / diameters_um[k]) / log(diameters_um[k + 1] / diameters_um[k])
    if rule is Interpolation.MONOTONE_CUBIC and 0.0 <= share <= 1.0:
        return _cubic(diameters_um, percents, k, share)
    return percents[k] + share * (percents[k + 1] - percents[k])


def _cubic(diameters_um: Sequence[float], percents: Sequence[float], k: int, share: float) -> float:
    steps = [log(b / a) for a, b in pairwise(diameters_um)]
    slopes = point_slopes(steps, percents)
    h, t = steps[k], share
    high, low = percents[k], percents[k + 1]
    bend = h * (t * (1.0 - t) ** 2 * slopes[k] - t * t * (1.0 - t) * slopes[k + 1])
    return high + (low - high) * t * t * (3.0 - 2.0 * t) + bend


def point_slopes(steps: Sequence[float], percents: Sequence[float]) -> list[float]:
    """
    Slope at every point that keeps a cubic from overshooting.

    Parameters
    ----------
    steps : (n - 1,) log diameter from point to point, all of one sign.
    percents : (n,) [%]

    Returns
    -------
    (n,) [% per unit of log diameter]
    """
    chords = [(b - a) / h for (a, b), h in zip(pairwise(percents), steps, strict=True)]
    if len(chords) == 1:
        return [chords[0], chords[0]]
    inner = [
        _inner_slope(h0, h1, c0, c1)
        for (h0, h1), (c0, c1) in zip(pairwise(steps), pairwise(chords), strict=True)
    ]
    first = _outer_slope(steps[0], steps[1], chords[0], chords[1])
    last = _outer_slope(steps[-1], steps[-2], chords[-1], chords[-2])
    return [first, *inner, last]


def _inner_slope(h0: float, h1: float, c0: float, c1: float) -> float:
    if c0 * c1 <= 0.0:
        return 0.0
    w0, w1 = 2.0 * h1 + h0, h1 + 2.0 * h0
    return (w0 + w1) / (w0 / c0 + w1 / c1)


def _outer_slope(h0: float, h1: float, c0: float, c1: float) -> float:
    slope = ((2.0 * h0 + h1) * c0 - h0 * c1) / (h0 + h1)
    if slope * c0 <= 0.0:
        return 0.0
    return 3.0 * c0 if c0 * c1 < 0.0 and abs(slope) > 3.0 * abs(c0) else slope
