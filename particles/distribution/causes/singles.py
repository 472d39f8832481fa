"""Causes seen in one run or one pair beside what is known of the sample: hand, mass, duplicate, copied columns."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import log

from particles.distribution.answer import Severity, SizeDistribution
from particles.distribution.causes.by_hand import rareness
from particles.distribution.causes.cause import Cause, Effect, Needs, Remedy, cause_of
from particles.distribution.causes.effects import effect_between, effect_of
from particles.distribution.causes.evidence import BatchEvidence, ByHand, RunEvidence
from particles.distribution.causes.remedies import with_mass
from particles.distribution.curve.points import by_size
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.between_run import RangeLimits, between_run_sds, pair_limits
from particles.distribution.method.edition import MethodEdition

HAND_LEAST = 0.004
"""A hand note rarer than this on a soil as measured is taken up. [share of sound notes]"""
CLAY_FELT_PCT = 15.0
"""Clay that a hand does not feel in a soil without any. *Common practice*. [%]"""
SOME_CLAY_PCT = 10.0
"""Clay felt that is taken up only when nearly all that was fine fell together. *Common practice*. [%]"""
FLOCS_FINER_UM = 45.0
"""Flocs settle as silt of this size and finer. *Common practice*. [µm]"""
HALVING_MOST = 2.3
"""Two readings farther apart in size do not show one fall. [-]"""
MUCH_FINE_PCT = 8.0
"""Less that is finer says nothing. [%]"""
LEFT_SHARE = 0.25
"""No more than this is left of it. *Common practice*. [-]"""
CLAY_LOST_PCT = 3.0
"""Below it nothing of such a clay is left in suspension. *Common practice*. [%]"""
ASKED_WITHIN_PCT = 6.0
"""How far a portion may be from the mass that was asked for. *Common practice*. [% of the mass]"""
ASKED_WITHIN_G = 1.0
"""The same for small portions. *Common practice*. [g]"""


def hand_causes(batch: BatchEvidence) -> Iterator[Cause]:
    """Runs whose figures the hand that prepared the sample would hardly have named like this."""
    for run in batch.runs:
        fractions = None if run.distribution is None else run.distribution.fractions
        if run.by_hand is None or run.distribution is None or fractions is None:
            continue
        share = rareness(run.by_hand, fractions.percents)
        if share < HAND_LEAST or _clay_lost(run.by_hand, run.distribution, fractions.percents.clay):
            sand, silt, clay = fractions.percents
            told = finding(
                "hand_disagrees",
                number=100.0 * share,
                hand=_said(run.by_hand),
                sand_pct=sand,
                silt_pct=silt,
                clay_pct=clay,
            )
            yield cause_of(told, (run.label,), remedy=Remedy.AGAIN, needs=Needs.DECISION)


def _clay_lost(by_hand: ByHand, distribution: SizeDistribution, clay_pct: float) -> bool:
    """Whether a clay that was felt is gone from the suspension, as flocs are: much of it, or some in one fall."""
    if by_hand.clay_pct is None or clay_pct >= CLAY_LOST_PCT:
        return False
    together = by_hand.clay_pct >= SOME_CLAY_PCT and _fell_together(distribution)
    return together or by_hand.clay_pct >= CLAY_FELT_PCT


def _fell_together(distribution: SizeDistribution) -> bool:
    """Whether nearly all that was fine left between two readings, about one halving of the size: flocs are alike."""
    return any(
        coarse.diameter_um <= FLOCS_FINER_UM
        and coarse.diameter_um <= HALVING_MOST * fine.diameter_um
        and coarse.percent_finer >= MUCH_FINE_PCT
        and fine.percent_finer <= LEFT_SHARE * coarse.percent_finer
        for coarse, fine in pairwise(by_size(distribution.points))
    )


def _said(by_hand: ByHand) -> str:
    parts = [] if by_hand.named is None else [by_hand.named]
    for name, value in (("sand", by_hand.sand_pct), ("clay", by_hand.clay_pct)):
        parts += [] if value is None else [f"{value:.0f} % {name}"]
    return ", ".join(parts)


def mass_causes(batch: BatchEvidence, method: MethodEdition) -> Iterator[Cause]:
    """Portions that were not weighed to the mass the weighing page asked for."""
    for run in batch.runs:
        weighed_g, asked_g = run.record.air_dry_mass_g, run.asked_mass_g
        if weighed_g is None or asked_g is None or weighed_g <= 0.0:
            continue
        off_pct = 100.0 * log(weighed_g / asked_g)
        if abs(off_pct) <= ASKED_WITHIN_PCT or abs(weighed_g - asked_g) <= ASKED_WITHIN_G:
            continue
        effect = effect_of(run, with_mass(run.record, asked_g), method)
        told = finding("portion_not_as_asked", number=weighed_g, asked_g=asked_g)
        yield cause_of(
            told, (run.label,), remedy=Remedy.MASS, mass_g=asked_g, effects=(effect,), needs=_note_or_decision(effect)
        )  # fmt: skip


def duplicate_causes(batch: BatchEvidence, method: MethodEdition) -> Iterator[Cause]:
    """Two portions of one sample that differ by more than they may."""
    by_label = {run.label: run for run in batch.runs}
    for run in batch.runs:
        first = None if run.duplicate_of is None else by_label.get(run.duplicate_of)
        if first is None:
            continue
        widest = _widest(first, run, method)
        if widest is None or widest.far_pct <= widest.limits.warn_pct:
            continue
        stop = widest.far_pct > widest.limits.stop_pct
        told = finding(
            "duplicate_outside_limit",
            variant="action" if stop else "repeatability",
            severity=Severity.STOP if stop else Severity.WARN,
            number=widest.far_pct,
            fraction=widest.fraction,
            limit_pct=widest.limits.stop_pct if stop else widest.limits.warn_pct,
        )
        effect = effect_between(first.label, first.distribution, run.distribution)
        needs = Needs.DECISION if stop else _note_or_decision(effect)
        yield cause_of(told, (first.label, run.label), remedy=Remedy.AGAIN, effects=(effect,), needs=needs)


@dataclass(frozen=True, slots=True)
class _Apart:
    """One fraction of both portions of a sample: how far they lie from each other, and how far they may."""

    fraction: str
    far_pct: float
    limits: RangeLimits


def _widest(first: RunEvidence, second: RunEvidence, method: MethodEdition) -> _Apart | None:
    """The fraction that goes furthest beyond its limit; None where there is nothing to compare."""
    one, other = (None if r.distribution is None else r.distribution.fractions for r in (first, second))
    if one is None or other is None or one.sand_by != other.sand_by:
        return None
    a, b = one.percents, other.percents
    sds = between_run_sds(second.record, method, sand_pct=a.sand, clay_pct=a.clay)
    apart = (
        _Apart("sand", abs(a.sand - b.sand), pair_limits(sds.sand_pct)),
        _Apart("clay", abs(a.clay - b.clay), pair_limits(sds.clay_pct)),
    )
    return max(apart, key=lambda each: each.far_pct / each.limits.warn_pct)


def _note_or_decision(effect: Effect) -> Needs:
    """What settles a warning with such an effect."""
    return Needs.DECISION if effect.decisive else Needs.NOTE
