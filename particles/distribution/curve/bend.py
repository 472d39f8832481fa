"""
Bend of a curve between its points: how far a percent read off straight there lies from the curve.

A straight line over a gap lies off the curve by half the curvature times gap² s (1 - s), s from 0 to 1 along the gap
in log diameter. The curvature is taken from the run's own points: how much the slope changes from the gap to its
neighbour on each side. Their mean tells which way the curve leaves the line, their magnitude how well that is known. A
neighbour is at least nearly as wide as the gap, so that reading noise over a short step does not pass for bend.
Beyond the outermost point nothing was measured; what is left there, down to 0 or up to 100 %, is taken to be spent
within `END_WIDTH`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, log

from particles.distribution.curve.interpolation import segment_of
from particles.distribution.record import Interpolation

END_WIDTH = 1.5
"""Width in log diameter, a factor of 4.5, over which what lies beyond the points is taken to fall.
Calibrated with `python -m particles.benchmarks.reading_off`. [-]"""
NEARLY_AS_WIDE = 0.8
"""Share of the gap's width that its neighbour has at least; calibrated with the same command. [-]"""


@dataclass(frozen=True, slots=True)
class Bend:
    """Error that the bend of the points suggests for a percent read off between them; 0 and 0 at a point itself."""

    bias_pct: float
    """Curve less percent read off, from the mean curvature; 0 for the cubic, which bends by itself. [%]"""
    magnitude_pct: float
    """Root of the summed squares of both curvatures' effects, never negative; scales the uncertainty left. [%]"""

    def minus(self, other: Bend) -> Bend:
        """Bend of the difference of two percents read off one curve near each other."""
        return Bend(self.bias_pct - other.bias_pct, abs(self.magnitude_pct - other.magnitude_pct))


def bend_at(
    diameters_um: Sequence[float],
    percents: Sequence[float],
    limit_um: float,
    rule: Interpolation = Interpolation.STRAIGHT,
) -> Bend:
    """
    Bias and magnitude of the bend at a limit.

    The curve is taken to lie `InputUncertainties.reading_off_bias` times the bias off the percent read off, with a
    standard deviation of `reading_off_share` times the magnitude. Beyond the points the extended line errs by the same
    formula, the more the further, whatever the rule.

    Parameters
    ----------
    diameters_um : (n,) falling, n >= 2. [µm]
    percents : (n,) percent finer, lines up with diameters_um. [%]
    limit_um : where it was read off. [µm]
    rule : by which it was.
    """
    k = segment_of(diameters_um, limit_um)
    gap = log(diameters_um[k] / diameters_um[k + 1])
    along = log(diameters_um[k] / limit_um) / gap
    slope = (percents[k] - percents[k + 1]) / gap
    width, drop = _coarser(diameters_um, percents, k, NEARLY_AS_WIDE * gap)
    before = 2.0 * (slope - drop / width) / (gap + width)
    width, drop = _finer(diameters_um, percents, k + 1, NEARLY_AS_WIDE * gap)
    after = 2.0 * (drop / width - slope) / (gap + width)
    sag = 0.5 * gap * gap * along * (1.0 - along)
    bends_itself = rule is Interpolation.MONOTONE_CUBIC and 0.0 <= along <= 1.0
    return Bend(0.0 if bends_itself else sag * (before + after) / 2.0, abs(sag) * hypot(before, after))


def _coarser(sizes: Sequence[float], percents: Sequence[float], at: int, least: float) -> tuple[float, float]:
    """Width in log diameter and drop [%] from the nearest point far enough on the coarse side, or from 100 %."""
    if at == 0:
        return END_WIDTH, 100.0 - percents[0]
    wide = [k for k in range(at) if log(sizes[k] / sizes[at]) >= least]
    other = wide[-1] if wide else 0
    return log(sizes[other] / sizes[at]), percents[other] - percents[at]


def _finer(sizes: Sequence[float], percents: Sequence[float], at: int, least: float) -> tuple[float, float]:
    """Width in log diameter and drop [%] to the nearest point far enough on the fine side, or to 0 %."""
    last = len(sizes) - 1
    if at == last:
        return END_WIDTH, percents[at]
    wide = [k for k in range(at + 1, last + 1) if log(sizes[at] / sizes[k]) >= least]
    other = wide[0] if wide else last
    return log(sizes[at] / sizes[other]), percents[at] - percents[other]
