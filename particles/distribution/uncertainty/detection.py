"""
The least of a fraction that one run can tell from nothing, from the run's own uncertainty.

Source
------
[1] L. A. Currie, Analytical Chemistry 40 (1968) 586 to 593, and his IUPAC recommendations of 1995, taken up by
    ISO 11843-1; from memory. With a chance of 5 % for each of the two errors and one standard uncertainty u at and
    near zero: critical value 1.645 u, minimum detectable value 3.29 u.

A figure above the critical value is told from nothing. One that is not is reported as less than the minimum
detectable value, since so much of it would have been told from nothing in 95 of 100 runs (decision 0012).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from particles.distribution.answer import Estimate

QUANTILE_95 = 1.645
"""95 % of a normal population lies below so many standard deviations above its mean, source [1]. [-]"""
_LAST_DIGIT = 9
"""Decimals beyond which a limit of a whole percent is one, whatever its last binary digit says."""


@dataclass(frozen=True, slots=True)
class Detection:
    """The limits of one run for one fraction, and which side of them its figure lies on."""

    decision_limit_pct: float
    """Critical value: a figure above it is told from nothing. [%]"""
    detection_limit_pct: float
    """Minimum detectable value: so much is told from nothing in 95 of 100 runs. [%]"""
    below_detection: bool
    """Whether the figure is not told from nothing; one farther below zero than the decision limit is an error, not
    a small amount, and stays as it is."""

    @property
    def whole_limit_pct(self) -> int:
        """The detection limit in whole percent, rounded upward so that it promises no more than the run can. [%]"""
        return ceil(round(self.detection_limit_pct, _LAST_DIGIT))


def detection_of(estimate: Estimate) -> Detection | None:
    """
    What the run can tell of a fraction; None without an uncertainty.

    The uncertainty is that of the draws at the figure itself. Wherever the figure can be below the decision limit
    that is the uncertainty at zero, as what grows with the figure has hardly begun; far above zero the limits are
    on the safe side.
    """
    spread_pct = estimate.standard_uncertainty_pct
    if not spread_pct:
        return None
    decision_pct = QUANTILE_95 * spread_pct
    return Detection(decision_pct, 2.0 * decision_pct, abs(estimate.value_pct) <= decision_pct)
