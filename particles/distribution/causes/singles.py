"""Causes seen in one run or one pair beside what is known of the sample: hand, mass, duplicate, copied columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log

from particles.distribution.answer import Finding, Severity
from particles.distribution.causes.by_hand import rareness
from particles.distribution.causes.cause import Cause, Effect, Needs, Remedy, Told
from particles.distribution.causes.effects import effect_between, effect_of
from particles.distribution.causes.evidence import BatchEvidence, ByHand, RunEvidence
from particles.distribution.causes.remedies import with_mass
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.between_run import RangeLimits, between_run_sds, pair_limits
from particles.distribution.method.edition import MethodEdition

HAND_LEAST = 0.005
"""A hand note rarer than this on a soil as measured is taken up. [share of sound notes]"""
CLAY_FELT_PCT = 15.0
"""Clay that a hand does not feel in a soil without any. *Common practice*. [%]"""
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
        if run.by_hand is None or fractions is None:
            continue
        share = rareness(run.by_hand, fractions.percents)
        if share < HAND_LEAST or _clay_lost(run.by_hand, fractions.percents.clay):
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


def _clay_lost(by_hand: ByHand, clay_pct: float) -> bool:
    """Whether a clay that was felt is gone from the suspension, as flocs are."""
    return by_hand.clay_pct is not None and by_hand.clay_pct >= CLAY_FELT_PCT and clay_pct < CLAY_LOST_PCT


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
            told, (run.label,), remedy=Remedy.MASS, mass_g=asked_g, effects=(effect,), needs=needs_of(told, (effect,))
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
        needs = Needs.DECISION if stop else needs_of(told, (effect,))
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


def cause_of(
    told: Finding,
    labels: Sequence[str],
    *,
    needs: Needs,
    told_by: Sequence[Told] = (),
    remedy: Remedy = Remedy.NONE,
    slots: Sequence[int] = (),
    mass_g: float | None = None,
    step_g_l: float | None = None,
    effects: Sequence[Effect] = (),
) -> Cause:
    """A cause in the words of one finding."""
    return Cause(
        kind=told.code,
        severity=told.severity,
        sentence=told.sentence,
        next_step=told.next_step,
        labels=tuple(labels),
        told_by=tuple(told_by),
        remedy=remedy,
        slots=tuple(slots),
        mass_g=mass_g,
        step_g_l=step_g_l,
        effects=tuple(effects),
        needs=needs,
    )


def needs_of(told: Finding, effects: Sequence[Effect], severity: Severity | None = None) -> Needs:
    """What a cause needs by its severity and by what it does to the figures."""
    reach = told.severity if severity is None else severity
    if reach is Severity.STOP or any(effect.decisive for effect in effects):
        return Needs.DECISION if reach is not Severity.NOTE else Needs.NOTE
    return Needs.NOTE if reach is Severity.WARN else Needs.LOOK
