"""Rows of a run's page: how its figures came about, the parts of their uncertainty, and when to read next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from particles.distribution import (
    Contribution,
    ExplainedReading,
    MethodEdition,
    NextReading,
    RunRecord,
    SizeDistribution,
    explain,
    grading,
    next_reading_advice,
    uncertainty_budget,
)

SAME_PCT = 1e-9


def explained_context(record: RunRecord, method: MethodEdition) -> dict[str, Any]:
    """Template context of the explained figures; it computes the run some two dozen times, so only on request."""
    explanation = explain(record, method)
    budget = uncertainty_budget(record, method)
    readings = explanation.readings
    return {
        "explanation": explanation,
        "shows_scale": _any(readings, "scale_correction") or _any(readings, "blank_scale_correction"),
        "shows_blank": any(reading.blank_reading is not None for reading in readings),
        "shows_other": _any(readings, "other_correction"),
        "effects": [(each, each.sentence.partition(". ")[0]) for each in explanation.effects],
        "budget": budget,
        "contributions": [] if budget is None else [_contribution(each) for each in budget.contributions],
    }


def _any(readings: tuple[ExplainedReading, ...], name: str) -> bool:
    return any(getattr(reading, name) for reading in readings)


def _contribution(each: Contribution) -> dict[str, Any]:
    return {
        "name": each.name,
        "parts": [
            (sd_pct, 100 * share)
            for sd_pct, share in zip(each.standard_uncertainty_pct, each.share, strict=True)
        ],
    }


@dataclass(frozen=True)
class CurveRow:
    """One size of the curve; None where that basis has no point. [%]"""

    diameter_um: float
    source: str
    fine_earth_pct: float | None
    whole_sample_pct: float | None


def curve_context(distribution: SizeDistribution, method: MethodEdition) -> dict[str, Any]:
    """The joined curve, also of the whole sample when it holds gravel, and its characteristic sizes."""
    fine = {point.diameter_um: point for point in distribution.curve}
    whole = {point.diameter_um: point for point in distribution.whole_sample_curve}
    # Without gravel both bases are one up to the last binary digits.
    has_gravel = any(
        d not in fine or abs(point.percent_finer - fine[d].percent_finer) > SAME_PCT
        for d, point in whole.items()
    )
    found = grading(distribution.curve, method.interpolation)
    sizes = ("d10", "d16", "d30", "d50", "d60", "d84", "d90")
    return {
        "curve_rows": [
            CurveRow(
                d,
                (fine.get(d) or whole[d]).source,
                fine[d].percent_finer if d in fine else None,
                whole[d].percent_finer if d in whole else None,
            )
            for d in sorted({*fine, *whole}, reverse=True)
        ],
        "has_gravel": has_gravel,
        "sizes": [(name.upper(), getattr(found, f"{name}_um")) for name in sizes],
        "ratios": [("Cu = D60 / D10", found.uniformity), ("Cc = D30² / (D10 × D60)", found.curvature)],
    }


def next_readings(record: RunRecord, method: MethodEdition, now_elapsed_s: float) -> list[NextReading]:
    """Advice on the next readings, for size limits not yet bracketed; none before there is a reading with a blank."""
    if not method.certifiable:
        return []
    advice = next_reading_advice(record, method, now_elapsed_s)
    return [each for each in advice if not each.bracketed and each.passes_at_s is not None]
