"""Several moisture dishes of one sample: their mean, and whether they agree."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding

DISHES_APART_PCT = 0.5
"""Dishes of one air-dry sample agree within it: 0.05 g on 10 g. *Common practice*, from memory. [% of the oven-dry
mass]"""


def mean_moisture_pct(moistures_pct: Sequence[float]) -> float:
    """Mean of the dishes, (n,), n >= 1. [%]"""
    return sum(moistures_pct) / len(moistures_pct)


def dish_findings(moistures_pct: Sequence[float]) -> list[Finding]:
    """moisture_dishes_apart: dishes, (n,), that differ more than dishes of one sample do."""
    if not moistures_pct:
        return []
    low_pct, high_pct = min(moistures_pct), max(moistures_pct)
    apart_pct = round(high_pct - low_pct, 6)
    if apart_pct <= DISHES_APART_PCT:
        return []
    return [
        finding(
            "moisture_dishes_apart",
            number=apart_pct,
            low_pct=low_pct,
            high_pct=high_pct,
            limit_pct=DISHES_APART_PCT,
        )
    ]
