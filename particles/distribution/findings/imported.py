"""Fractions that were typed or imported instead of computed here."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding

SUM_FROM_TO_PCT = (98.0, 102.0)
"""What rounded fractions of one soil may add up to. *Common practice*. [%]"""


def imported_fractions_findings(parts_pct: Sequence[float]) -> list[Finding]:
    """
    imported_sum, imported_out_of_range: whether parts can be those of one soil.

    Parameters
    ----------
    parts_pct : (n,) such as sand, silt and clay, as given. [%]

    Returns
    -------
    Stop findings, empty when the parts are plausible; nothing is scaled to 100.
    """
    found: list[Finding] = []
    total = round(sum(parts_pct), 6)
    low, high = SUM_FROM_TO_PCT
    if not low <= total <= high:
        found.append(finding("imported_sum", number=total, difference_pct=total - 100.0))
    return found + [
        finding("imported_out_of_range", number=part) for part in parts_pct if not 0.0 <= part <= 100.0
    ]
