"""
Middle and spread that a few wild values do not move: scaled median deviation, algorithms A and S, pairs.

Sources: ISO 13528 and ISO 5725-5 as restated in the sources of fixtures/reference/quality_control.json. Constants are
exact and the iterations go on until nothing moves; the standard's own printed example stops after the fourth, whose
spread is 3 % smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median

SD_PER_MEDIAN_DEVIATION = 1.4826022185056018
"""Standard deviation per median deviation of a normal law. [-]"""
REACH_SD = 1.5
"""Algorithm A pulls values farther away than so many standard deviations to that distance. [-]"""
SD_PER_PULLED = 1.1333926554624876
"""Standard deviation per spread of a normal law pulled in at 1.5 standard deviations. [-]"""
SD_PER_MEDIAN_DIFFERENCE = SD_PER_MEDIAN_DEVIATION / sqrt(2)
"""Standard deviation of one value per median difference within pairs: 1.0484. [-]"""
PAIR_REACH, PAIR_SPREAD = 1.6448536269514695, 1.0968049336282006
"""Algorithm S for ranges of two, one degree of freedom each: limit factor and adjustment factor. [-]"""
CONVERGED = 1e-12
MOST_ITERATIONS = 2_000


@dataclass(frozen=True, slots=True)
class Robust:
    """Robust mean and standard deviation, in the unit of the values."""

    mean: float
    sd: float


def median_deviation_sd(values: Sequence[float]) -> float:
    """
    Standard deviation from the median distance to the median.

    >>> round(median_deviation_sd([1.0, 2.0, 3.0, 4.0, 100.0]), 4)
    1.4826
    """
    middle = median(values)
    return SD_PER_MEDIAN_DEVIATION * median(abs(value - middle) for value in values)


def algorithm_a(values: Sequence[float], *, iterations: int = MOST_ITERATIONS) -> Robust:
    """
    Robust mean and standard deviation of single values by algorithm A, until nothing moves.

    Parameters
    ----------
    values : at least two.
    iterations : at most; the printed answer of the standard's nine laboratories is that after 4.

    Where more than half of the values are equal the spread is zero and stays so.
    """
    found = Robust(median(values), median_deviation_sd(values))
    for _ in range(iterations):
        after = _pulled(values, found)
        settled = abs(after.mean - found.mean) + abs(after.sd - found.sd) <= CONVERGED * abs(after.sd)
        found = after
        if settled:
            break
    return found


def _pulled(values: Sequence[float], now: Robust) -> Robust:
    low, high = now.mean - REACH_SD * now.sd, now.mean + REACH_SD * now.sd
    pulled = [min(max(value, low), high) for value in values]
    mean = fmean(pulled)
    squares = sum((value - mean) ** 2 for value in pulled)
    return Robust(mean, SD_PER_PULLED * sqrt(squares / (len(values) - 1)))


def algorithm_s(
    spreads: Sequence[float], *, reach: float = PAIR_REACH, adjusted: float = PAIR_SPREAD
) -> float:
    """
    Robust pooled standard deviation by algorithm S, until nothing moves.

    Parameters
    ----------
    spreads : standard deviations, all of as many degrees of freedom.
    reach, adjusted : limit and adjustment factor for so many degrees of freedom; by default for one. [-]
    """
    found = median(spreads)
    for _ in range(MOST_ITERATIONS):
        after = adjusted * sqrt(fmean(min(each, reach * found) ** 2 for each in spreads))
        settled = abs(after - found) <= CONVERGED * after
        found = after
        if settled:
            break
    return found


def sd_of_pairs(pairs: Sequence[tuple[float, float]]) -> float:
    """
    Robust standard deviation of one value from differences within pairs, by algorithm S.

    One wild pair among many moves it little, where √(Σd²/2n) would follow it.

    >>> quiet = [(20.0, 21.0), (30.0, 29.0)] * 6
    >>> round(sd_of_pairs(quiet), 3), round(sd_of_pairs([*quiet, (10.0, 51.0)]), 3)
    (0.776, 0.861)
    """
    return algorithm_s([abs(first - second) / sqrt(2) for first, second in pairs])


def sd_of_pairs_by_median(pairs: Sequence[tuple[float, float]]) -> float:
    """
    Standard deviation of one value from the median difference within pairs; the roughest and least moved.

    >>> round(sd_of_pairs_by_median([(20.0, 21.0)] * 9), 4)
    1.0484
    """
    return SD_PER_MEDIAN_DIFFERENCE * median(abs(first - second) for first, second in pairs)
