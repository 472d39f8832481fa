"""
Spread between two runs as a function of content, once there are enough pairs to tell.

Sieving and sedimentation count grains, so that their spread follows √(X(100 - X)), the shape of a binomial law:
found for washing and sieving of sand in 17 laboratories (projects.bre.co.uk, aggregate programme), and laboratories'
spread of clay rises with its content (Variability in soil characterization data from laboratories in the
northeastern United States). Scale readings add a part that does not. Here: s² = level² + (rise · shape)², with the
shape 1 at 50 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from statistics import fmean

from batches.quality.robust import PAIR_REACH, PAIR_SPREAD, sd_of_pairs
from particles.distribution.record import SpreadByContent, content_shape

LEAST_PAIRS = 30
"""Fewer pairs cannot tell a rise from chance: at 30, s of one third of them is known to about 22 %. *Chosen*."""
LEAST_SPAN = 0.3
"""The shapes of the contents must span so much, else there is nothing to compare. *Chosen*. [-]"""
CLEAR_STANDARD_ERRORS = 2.0
"""A rise is used when it lies so many of its own standard errors above zero. *Common practice*. [-]"""


def spread_by_content(pairs_pct: Sequence[tuple[float, float]]) -> SpreadByContent:
    """
    Spread from pairs: one figure for all contents, or one that rises with content where that is clear.

    Parameters
    ----------
    pairs_pct : the same fraction of two runs of one sample, at least one pair. [%]

    A straight line is laid through half the squared differences over the squared shape, each held at the limit of
    algorithm S for its content, until neither part moves.
    """
    flat = SpreadByContent(sd_of_pairs(pairs_pct), 0.0)
    shapes = [content_shape(fmean(pair)) ** 2 for pair in pairs_pct]
    if len(pairs_pct) < LEAST_PAIRS or sqrt(max(shapes)) - sqrt(min(shapes)) < LEAST_SPAN:
        return flat
    found = flat
    for _ in range(50):
        found = _line(pairs_pct, shapes, found)
    return found if found.rise_pct > 0 and _is_clear(pairs_pct, shapes, found) else flat


def _squares(pairs_pct: Sequence[tuple[float, float]], now: SpreadByContent) -> list[float]:
    """Half the squared differences, each held at the limit that the spread at its content gives."""
    return [
        PAIR_SPREAD**2 * min((a - b) ** 2 / 2, (PAIR_REACH * now.at((a + b) / 2)) ** 2) for a, b in pairs_pct
    ]


def _line(
    pairs_pct: Sequence[tuple[float, float]], shapes: Sequence[float], now: SpreadByContent
) -> SpreadByContent:
    squares = _squares(pairs_pct, now)
    weights = [1 / max(now.at(fmean(pair)), 1e-9) ** 4 for pair in pairs_pct]  # a variance's own variance
    total = sum(weights)
    mean_x, mean_y = (
        sum(w * v for w, v in zip(weights, each, strict=True)) / total for each in (shapes, squares)
    )
    across = sum(w * (x - mean_x) ** 2 for w, x in zip(weights, shapes, strict=True))
    rise = (
        sum(w * (x - mean_x) * (y - mean_y) for w, x, y in zip(weights, shapes, squares, strict=True))
        / across
    )
    rise = min(max(rise, 0.0), mean_y / mean_x)
    return SpreadByContent(sqrt(max(mean_y - rise * mean_x, 0.0)), sqrt(rise))


def _is_clear(
    pairs_pct: Sequence[tuple[float, float]], shapes: Sequence[float], found: SpreadByContent
) -> bool:
    """Whether the squared rise lies above zero by more than its own standard errors, were there none."""
    flat_pct = sd_of_pairs(pairs_pct)
    mean = fmean(shapes)
    across = sum((x - mean) ** 2 for x in shapes)
    # Variance of half a squared difference of a normal law, one degree of freedom: 2 s⁴.
    standard_error = sqrt(2.0) * flat_pct**2 / sqrt(across)
    return found.rise_pct**2 > CLEAR_STANDARD_ERRORS * standard_error
