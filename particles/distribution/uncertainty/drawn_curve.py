"""Smoothing and reading off for many drawn curves at once; `curve.reading_off` does so for one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from particles.distribution.record import Interpolation

Floats = NDArray[np.float64]
NEARLY_NONE = 0.01
"""Share of the draws in which two rows may rise and still be fitted separately at first; decides the speed alone."""


def non_rising_draws(percents: Floats) -> Floats:
    """
    Isotonic fit of every draw, equal weights, by the max-min formula of pooled means.

    Parameters
    ----------
    percents : (n, draws) percent finer in order of falling diameter. [%]

    Returns
    -------
    percents itself, changed in place; columns that never rise stay as they were. [%]
    """
    steps = percents[1:] > percents[:-1]
    cuts = np.flatnonzero(steps.sum(axis=1) <= NEARLY_NONE * percents.shape[1]) + 1
    for first, end in pairwise([0, *cuts.tolist(), len(percents)]):
        _fit(percents[first:end], steps[first : end - 1])
    # What is pooled stays pooled, so a draw that still rises from part to part is fitted on from here.
    _fit(percents, percents[1:] > percents[:-1])
    return percents


def _fit(percents: Floats, steps: NDArray[np.bool_]) -> None:
    """Fit the draws that rise, in place; steps, (n - 1, draws), says which rows rise to the next."""
    rises = np.flatnonzero(steps.any(axis=0))
    if rises.size:
        part = percents.take(rises, axis=1)
        _pool_first_rise(part, steps.take(rises, axis=1))
        still = np.flatnonzero((part[1:] > part[:-1]).any(axis=0))
        if still.size:
            part[:, still] = _pooled(part.take(still, axis=1))
        percents[:, rises] = part


def _pool_first_rise(part: Floats, steps: NDArray[np.bool_]) -> None:
    """Give the first two neighbours that rise their mean, in place: the fit pools them, whatever else it pools."""
    draws = part.shape[1]
    here = np.argmax(steps, axis=0) * draws + np.arange(draws)
    flat = part.reshape(-1)
    mean = 0.5 * (flat[here] + flat[here + draws])
    flat[here] = flat[here + draws] = mean


def _pooled(part: Floats) -> Floats:
    """Isotonic fit by the max-min formula: the least, over starts of a block, of its largest mean over ends."""
    n = len(part)
    fitted = np.full_like(part, np.inf)
    means = np.empty_like(part)
    running, highest = np.empty(part.shape[1]), np.empty(part.shape[1])
    for first in range(n):
        running[:] = part[first]
        means[first] = running
        for last in range(first + 1, n):
            running += part[last]
            np.multiply(running, 1.0 / (last - first + 1), out=means[last])
        highest[:] = means[n - 1]
        for last in range(n - 1, first - 1, -1):
            np.maximum(highest, means[last], out=highest)
            np.minimum(fitted[last], highest, out=fitted[last])
    return fitted


def read_off_draws(
    log_d: Floats, percents: Floats, limit: float | Floats, rule: Interpolation = Interpolation.STRAIGHT
) -> Floats:
    """
    Percent finer of every draw at a limit; beyond the points the outermost straight line is extended. [%]

    Parameters
    ----------
    log_d : (n, draws) natural logarithm of the diameter in µm, falling, n >= 2.
    percents : (n, draws) lines up with log_d. [%]
    limit : natural logarithm of where to read, in µm; one for all, or (draws,).
    rule : between the points, as `interpolation.read_between`.

    Returns
    -------
    (draws,) [%]
    """
    draws = log_d.shape[1]
    # Only the inner rows decide the segment, so it needs no bounds: none above is the first, all is the last.
    k = np.count_nonzero(log_d[1:-1] > limit, axis=0)
    # Flat places of the coarse and the fine end; taking by one index is much faster than by two.
    here = k * draws + np.arange(draws)
    next_ = here + draws
    coarse, high, low = log_d.ravel()[here], percents.ravel()[here], percents.ravel()[next_]
    step = log_d.ravel()[next_] - coarse
    share = (limit - coarse) / step
    read: Floats = high + share * (low - high)
    if rule is Interpolation.MONOTONE_CUBIC:
        slopes = _slopes(np.diff(log_d, axis=0), np.diff(percents, axis=0))
        rest = 1.0 - share
        bend = step * share * rest * (rest * slopes.ravel()[here] - share * slopes.ravel()[next_])
        cubic = high + (low - high) * share * share * (3.0 - 2.0 * share) + bend
        read = np.where((share >= 0.0) & (share <= 1.0), cubic, read)
    return read


def _slopes(steps: Floats, drops: Floats) -> Floats:
    """Slopes of every draw, (n, draws), as `interpolation.point_slopes`; steps and drops are (n - 1, draws)."""
    chords = drops / steps
    if len(chords) == 1:
        return np.repeat(chords, 2, axis=0)
    h0, h1, c0, c1 = steps[:-1], steps[1:], chords[:-1], chords[1:]
    one_way = c0 * c1 > 0.0
    held = np.where(one_way, c0, 1.0), np.where(one_way, c1, 1.0)
    inner = np.where(one_way, 3.0 * (h0 + h1) / ((2.0 * h1 + h0) / held[0] + (h1 + 2.0 * h0) / held[1]), 0.0)
    ends = (_outer_slopes(*pair) for pair in ((steps[:2], chords[:2]), (steps[:-3:-1], chords[:-3:-1])))
    first, last = ends
    return np.concatenate([first[np.newaxis], inner, last[np.newaxis]])


def _outer_slopes(steps: Floats, chords: Floats) -> Floats:
    (h0, h1), (c0, c1) = steps, chords
    slope = ((2.0 * h0 + h1) * c0 - h0 * c1) / (h0 + h1)
    steep = (c0 * c1 < 0.0) & (np.abs(slope) > 3.0 * np.abs(c0))
    return np.where(slope * c0 <= 0.0, 0.0, np.where(steep, 3.0 * c0, slope))
