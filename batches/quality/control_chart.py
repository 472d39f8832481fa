"""
Control charts of single values: centre, spread from moving ranges, limits, and an exponentially weighted mean.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals) and 6.3.2.4 (weighted mean). The
constants are exact here, where printed tables cut d2 to 1.128 and E2 to 2.66: the limits differ by 0.003 of the
handbook's own example.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt
from statistics import fmean, median

MEAN_RANGE_PER_SD = 2 / sqrt(pi)
"""Mean range of two values per standard deviation, d2 for n = 2. [-]"""
SD_OF_RANGE_PER_SD = sqrt(2 - 4 / pi)
"""Standard deviation of the range of two values per standard deviation of one, d3 for n = 2. [-]"""
ACTION_PER_MEAN_RANGE = 1 + 3 * SD_OF_RANGE_PER_SD / MEAN_RANGE_PER_SD
"""Action limit of a range of two per mean range, D4 for n = 2. [-]"""
MEDIAN_RANGE_PER_SD = 0.9538725524089398
"""Median range of two values per standard deviation: √2 times the upper quartile of the normal law. [-]"""
WARN_SD, ACTION_SD = 2.0, 3.0
"""Standard deviations from the centre to the warning and to the action limits. *Common practice*. [-]"""
EWMA_WEIGHT = 0.2
"""Weight of the newest value: a shift of one standard deviation is seen after 11 points where single values take 44
(exact run lengths in fixtures/reference/quality_control.json). [-]"""


@dataclass(frozen=True, slots=True)
class ChartLimits:
    """Centre and standard deviation of a chart of single values, in the unit of the values."""

    centre: float
    sd: float

    def at(self, sds: float) -> tuple[float, float]:
        """Lower and upper limit so many standard deviations from the centre."""
        return self.centre - sds * self.sd, self.centre + sds * self.sd

    @property
    def warn(self) -> tuple[float, float]:
        """Lower and upper warning limit."""
        return self.at(WARN_SD)

    @property
    def action(self) -> tuple[float, float]:
        """Lower and upper action limit."""
        return self.at(ACTION_SD)

    def z(self, value: float) -> float:
        """Distance of a value from the centre in standard deviations. [-]"""
        return (value - self.centre) / self.sd


@dataclass(frozen=True, slots=True)
class Individuals:
    """Limits of single values and of the moving ranges they come from, in the unit of the values."""

    limits: ChartLimits
    middle_range: float
    """Mean moving range, or the median one."""
    range_action: float
    """Action limit of a moving range."""
    count: int


def moving_ranges(values: Sequence[float]) -> list[float]:
    """
    Differences of neighbours without sign; one fewer than the values.

    >>> moving_ranges([3.0, 5.0, 4.0])
    [2.0, 1.0]
    """
    return [abs(later - earlier) for earlier, later in pairwise(values)]


def individuals(values: Sequence[float], *, range_per_sd: float = MEAN_RANGE_PER_SD) -> Individuals:
    """
    Limits from the mean and the mean moving range, s = mean range / d2.

    Parameters
    ----------
    values : in the order in which they were found, at least two.
    range_per_sd : d2; printed tables cut it to 1.128. [-]
    """
    ranges = moving_ranges(values)
    mean_range = fmean(ranges)
    limits = ChartLimits(fmean(values), mean_range / range_per_sd)
    return Individuals(limits, mean_range, ACTION_PER_MEAN_RANGE * mean_range, len(values))


def individuals_by_medians(values: Sequence[float]) -> Individuals:
    """
    Limits from the median and the median moving range, which a few wild values do not move.

    >>> quiet = [10.0, 11.0, 10.0, 11.0, 10.0, 11.0, 10.0]
    >>> individuals_by_medians([*quiet, 99.0]).limits.sd == individuals_by_medians(quiet).limits.sd
    True
    """
    middle_range = median(moving_ranges(values))
    limits = ChartLimits(median(values), middle_range / MEDIAN_RANGE_PER_SD)
    range_action = limits.sd * (MEAN_RANGE_PER_SD + 3 * SD_OF_RANGE_PER_SD)
    return Individuals(limits, middle_range, range_action, len(values))


def weighted_means(values: Sequence[float], *, start: float, weight: float = EWMA_WEIGHT) -> list[float]:
    """
    Exponentially weighted moving means, z = weight x + (1 - weight) z before; one for each value.

    >>> weighted_means([52.0, 47.0], start=50.0, weight=0.3)
    [50.6, 49.519999999999996]
    """
    found, before = [], start
    for value in values:
        before = weight * value + (1 - weight) * before
        found.append(before)
    return found


def weighted_sd(sd: float, *, weight: float = EWMA_WEIGHT, points: int | None = None) -> float:
    """
    Standard deviation of a weighted mean after so many points; None: after very many.

    >>> round(3 * weighted_sd(2.0539, weight=0.3), 4)
    2.5884
    """
    steady = weight / (2 - weight)
    return sd * sqrt(steady if points is None else steady * (1 - (1 - weight) ** (2 * points)))
