"""Difference between two whole runs of one sample: the edition's figure, or the laboratory's own duplicates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from particles.distribution.errors import DuplicatesTooFewError
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord, SpreadByContent

LEAST_PAIRS = 8
"""Fewer duplicates say too little: with 8 the standard deviation itself is known to about 25 %."""
REPEATABILITY_FACTOR = 2.8
"""Two runs differ by less than so many standard deviations of one in 95 of 100 pairs.
*Common practice*: 1.96 √2. [-]"""
RANGE_PER_SD = 1.128
"""Mean difference of two runs per standard deviation of one: d2 for n = 2. *Common practice*. [-]"""
ACTION_PER_MEAN_RANGE = 3.267
"""Action limit of a range chart per mean range: D4 for n = 2. *Common practice*. [-]"""


@dataclass(frozen=True, slots=True)
class BetweenRunSds:
    """Between-run standard deviations of one run. All in percentage points."""

    sand_pct: float
    clay_pct: float

    @property
    def larger_pct(self) -> float:
        """The larger of the two. [percentage points]"""
        return max(self.sand_pct, self.clay_pct)


def between_run_sds(
    record: RunRecord, method: MethodEdition, *, sand_pct: float, clay_pct: float
) -> BetweenRunSds:
    """
    Between-run standard deviations that a run of these contents is computed with.

    Each fraction has its own when the laboratory entered one, else both share the laboratory's single figure, else
    that of the edition.
    """
    both = method.dispersion_sd_pct if record.between_run_sd_pct is None else record.between_run_sd_pct
    sand, clay = (
        SpreadByContent(both) if own is None else own
        for own in (record.between_run_sand, record.between_run_clay)
    )
    return BetweenRunSds(sand.at(sand_pct), clay.at(clay_pct))


def between_run_sd_from_duplicates(pairs_pct: Sequence[tuple[float, float]]) -> tuple[float, int]:
    """
    Standard deviation of one run from differences within pairs, s = sqrt(sum of d² / 2n).

    Parameters
    ----------
    pairs_pct : (n,) the same fraction of two runs of one sample, n >= 8. [%]

    Returns
    -------
    (s, n). [%], [-]. It holds the reading and division errors too, which are drawn once more within the
    run, so the uncertainty comes out rather too wide than too narrow.

    Raises
    ------
    DuplicatesTooFewError below 8 pairs.

    >>> between_run_sd_from_duplicates([(20.0, 22.0)] * 8)
    (1.4142135623730951, 8)
    """
    n = len(pairs_pct)
    if n < LEAST_PAIRS:
        raise DuplicatesTooFewError(
            "Too few duplicates for a between-run standard deviation",
            f"{n} pairs",
            f"Keep the edition's figure until there are {LEAST_PAIRS}.",
        )
    return sqrt(sum((first - second) ** 2 for first, second in pairs_pct) / (2 * n)), n


def sd_uncertainty_pct(sd_pct: float, n: int) -> float:
    """
    Standard uncertainty of a standard deviation from n pairs, s / √(2n), one degree of freedom each. [%]

    >>> round(sd_uncertainty_pct(1.2, 8), 3)
    0.3
    """
    return sd_pct / sqrt(2.0 * n)


@dataclass(frozen=True, slots=True)
class RangeLimits:
    """Limits of the difference between two runs of one sample. All in percentage points."""

    mean_pct: float
    """Mean difference of a pair."""
    warn_pct: float
    """Repeatability limit: 5 of 100 pairs differ by more by chance."""
    stop_pct: float
    """Action limit of the range chart: 1 of 100 pairs by chance."""


def pair_limits(between_run_sd_pct: float) -> RangeLimits:
    """
    Limits for one pair from the standard deviation of one run, s: 2.8 s, and D4 d2 s = 3.69 s.

    A standard deviation from duplicates holds the errors of the readings too, so the limits do; the figure of a
    method edition does not, and its limits are rather narrow.

    >>> limits = pair_limits(1.5)
    >>> round(limits.warn_pct, 2), round(limits.stop_pct, 2)
    (4.2, 5.53)
    """
    mean = RANGE_PER_SD * between_run_sd_pct
    return RangeLimits(mean, REPEATABILITY_FACTOR * between_run_sd_pct, ACTION_PER_MEAN_RANGE * mean)
