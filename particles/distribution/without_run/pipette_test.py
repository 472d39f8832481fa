"""A pipette test: sand, silt and clay from dried aliquots, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.catalogue import finding
from particles.distribution.findings.portion import mass_findings
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.settling.pipette import (
    PIPETTE_EDITIONS,
    Aliquot,
    PipetteEdition,
    suspended_g,
    suspended_pct,
)
from particles.distribution.triple import SandSiltClay

ALIQUOTS_APART_PCT = 2.0
"""Two aliquots drawn at one size give the same share within it: with 25 of 1000 mL, a portion of 10 g and a
balance of 1 mg, weighing alone makes 0.4. *Common practice*, from memory. [% of the portion]"""
SILT_AND_CLAY, CLAY = "silt and clay", "clay"


@dataclass(frozen=True, slots=True)
class AliquotShare:
    """What one aliquot stands for."""

    name: str
    suspended_g: float
    """Soil in the whole cylinder. [g]"""
    percent: float
    """Of the oven-dry portion. [%]"""


@dataclass(frozen=True, slots=True)
class PipetteResult:
    """Aliquots in the order they were given, the fractions they make, and what was found on them."""

    aliquots: tuple[AliquotShare, ...]
    fractions_pct: SandSiltClay[float] | None
    """None when a size has no aliquot, or aliquots that contradict each other. [%]"""
    findings: tuple[Finding, ...]


def pipette_test(
    aliquots: Sequence[Aliquot],
    *,
    oven_dry_mass_g: float,
    volume_ml: float,
    dispersant_g_l: float,
    edition: PipetteEdition = PIPETTE_EDITIONS["pipette-2026-1"],
    limits: QualityLimits = STANDARD_LIMITS,
) -> PipetteResult:
    """
    Fractions from the aliquots of one cylinder; of two that agree the mean, of two that do not none.

    Parameters
    ----------
    dispersant_g_l : salt taken from each residue; 0 takes nothing off. [g/L]
    """
    shares = tuple(
        AliquotShare(
            each.name,
            suspended_g(each, volume_ml, dispersant_g_l),
            suspended_pct(each, volume_ml, oven_dry_mass_g, dispersant_g_l),
        )
        for each in aliquots
    )
    found = mass_findings(oven_dry_mass_g, replace(limits, mass_usual_g=edition.portion_g))
    found += _missing(shares) + _repeats(shares)
    fractions = None if _contradict(found) else _fractions(shares)
    if fractions is not None:
        found += _beyond(fractions, limits)
    return PipetteResult(shares, fractions, tuple(found))


def _percents(shares: Sequence[AliquotShare], name: str) -> list[float]:
    return [each.percent for each in shares if each.name == name]


def _missing(shares: Sequence[AliquotShare]) -> list[Finding]:
    return [
        finding("aliquot_missing", aliquot=name)
        for name in (SILT_AND_CLAY, CLAY)
        if not _percents(shares, name)
    ]


def _repeats(shares: Sequence[AliquotShare]) -> list[Finding]:
    found: list[Finding] = []
    for name in (SILT_AND_CLAY, CLAY):
        percents = _percents(shares, name)
        if len(percents) < 2:
            continue
        apart_pct = max(percents) - min(percents)
        values: dict[str, Any] = {
            "number": apart_pct,
            "aliquot": name,
            "low_pct": min(percents),
            "high_pct": max(percents),
        }
        if apart_pct > ALIQUOTS_APART_PCT:
            found.append(finding("aliquots_apart", limit_pct=ALIQUOTS_APART_PCT, **values))
        else:
            found.append(finding("aliquots_averaged", **values))
    return found


def _contradict(found: Sequence[Finding]) -> bool:
    return any(each.code == "aliquots_apart" for each in found)


def _fractions(shares: Sequence[AliquotShare]) -> SandSiltClay[float] | None:
    fines, clay = _percents(shares, SILT_AND_CLAY), _percents(shares, CLAY)
    if not fines or not clay:
        return None
    fines_pct, clay_pct = sum(fines) / len(fines), sum(clay) / len(clay)
    return SandSiltClay(100.0 - fines_pct, fines_pct - clay_pct, clay_pct)


def _beyond(fractions: SandSiltClay[float], limits: QualityLimits) -> list[Finding]:
    """Fractions below nothing, as in a run."""
    return [
        finding(
            f"{name}_negative",
            variant="beyond_noise",
            severity=Severity.STOP if percent < limits.negative_fraction_pct else Severity.WARN,
            number=percent,
        )
        for name, percent in fractions._asdict().items()
        if percent < 0.0
    ]
