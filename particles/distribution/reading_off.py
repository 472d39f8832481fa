"""
How far a percent read off straight between two points may lie from the curve: the points say how much it bends.

The error of a straight line over a gap is half the curvature times gap² s (1 - s), s from 0 to 1 along the gap in
log diameter. The curvature is taken from the run's own points: how much the slope changes from the gap to its
neighbour on each side, the two added in squares. A neighbour is at least nearly as wide as the gap, so that
reading noise over a short step does not pass for bend. Beyond the outermost point nothing was measured; what is
left there, down to 0 or up to 100 %, is taken to be spent within `END_WIDTH`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log

from .interpolation import segment_of

END_WIDTH = 1.5
"""Width in log diameter, a factor of 4.5, over which what lies beyond the points is taken to fall; calibrated."""
NEARLY_AS_WIDE = 0.8
"""Share of the gap's width that its neighbour has at least. [-]"""


def bend_error_pct(diameters_um: Sequence[float], percents: Sequence[float], limit_um: float) -> float:
    """
    Size of the error of reading off straight that the bend of the points suggests; 0 at a point itself. [%]

    Its standard deviation is this times `InputUncertainties.reading_off_share`. Beyond the points the extended
    line errs by the same formula, the more the further.

    Parameters
    ----------
    diameters_um : (n,) falling, n >= 2. [µm]
    percents : (n,) percent finer, lines up with diameters_um. [%]
    """
    k = segment_of(diameters_um, limit_um)
    gap = log(diameters_um[k] / diameters_um[k + 1])
    along = log(diameters_um[k] / limit_um) / gap
    slope = (percents[k] - percents[k + 1]) / gap
    bends = []
    for width, drop in (
        _coarser(diameters_um, percents, k, NEARLY_AS_WIDE * gap),
        _finer(diameters_um, percents, k + 1, NEARLY_AS_WIDE * gap),
    ):
        bends.append(2.0 * (slope - drop / width) / (gap + width))
    return abs(0.5 * gap * gap * along * (1.0 - along)) * hypot(*bends)


def _coarser(sizes: Sequence[float], percents: Sequence[float], at: int, least: float) -> tuple[float, float]:
    """Width in log diameter and drop [%] from the nearest point far enough on the coarse side, or from 100 %."""
    if at == 0:
        return END_WIDTH, 100.0 - percents[0]
    wide = [k for k in range(at) if log(sizes[k] / sizes[at]) >= least]
    other = wide[-1] if wide else 0
    return log(sizes[other] / sizes[at]), percents[other] - percents[at]


def _finer(sizes: Sequence[float], percents: Sequence[float], at: int, least: float) -> tuple[float, float]:
    """The same on the fine side, or down to 0 %."""
    last = len(sizes) - 1
    if at == last:
        return END_WIDTH, percents[at]
    wide = [k for k in range(at + 1, last + 1) if log(sizes[at] / sizes[k]) >= least]
    other = wide[0] if wide else last
    return log(sizes[at] / sizes[other]), percents[at] - percents[other]
