"""
Clay beyond the last reading, by the line through the readings at 1.5 h and 24 h.

Source: G. W. Gee and J. W. Bauder 1986, from memory: P2 = m ln(2/X24) + P24 with
m = (P1.5 - P24) / ln(X1.5/X24), X the diameters and P the percent finer of the two readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from particles.distribution.answer import SizePoint
from particles.distribution.curve.reading_off import ReadOff

EARLY_S = (4_300.0, 7_500.0)
"""Times that count as the reading at 1.5 h, 2 h included. [s]"""
DAY_S = (72_000.0, 108_000.0)
"""Times that count as the reading at 24 h. [s]"""


def clay_by_day_line(points: Sequence[SizePoint], limit_um: float, beyond: float) -> ReadOff | None:
    """
    Percent finer at the clay limit by that line; None without both readings.

    Parameters
    ----------
    points : (n,) smoothed, in any order.
    beyond : how far the limit lies beyond the last point, as a ratio of diameters. [-]
    """
    ends = day_line_ends(points)
    if ends is None:
        return None
    early, day = ends
    fall = early.percent_finer_curve - day.percent_finer_curve
    slope = fall / log(early.diameter_um / day.diameter_um)
    return ReadOff(slope * log(limit_um / day.diameter_um) + day.percent_finer_curve, beyond)


def day_line_ends(points: Sequence[SizePoint]) -> tuple[SizePoint, SizePoint] | None:
    """The readings at 1.5 h and at 24 h; None unless both are there in their order of size."""
    early = _nearest(points, EARLY_S, 5_400.0)
    day = _nearest(points, DAY_S, 86_400.0)
    if early is None or day is None or early.diameter_um <= day.diameter_um:
        return None
    return early, day


def _nearest(points: Sequence[SizePoint], span_s: tuple[float, float], wanted_s: float) -> SizePoint | None:
    within = [point for point in points if span_s[0] <= point.elapsed_s <= span_s[1]]
    return min(within, key=lambda point: abs(point.elapsed_s - wanted_s), default=None)
