"""What a remedy does to the figures of a run: computed by doing it, never guessed."""

from __future__ import annotations

from particles.distribution.answer import SizeDistribution
from particles.distribution.causes.cause import Effect
from particles.distribution.causes.evidence import RunEvidence
from particles.distribution.causes.likelihood import seen_as
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord


def effect_of(evidence: RunEvidence, record: RunRecord, method: MethodEdition) -> Effect:
    """The effect of another record in the place of the one a run has."""
    return effect_between(
        evidence.label, evidence.distribution, seen_as(evidence, record, method).distribution
    )


def effect_between(label: str, before: SizeDistribution | None, after: SizeDistribution | None) -> Effect:
    """The effect on a run's figures of going from one result to another."""
    return Effect(
        label,
        None if before is None or before.fractions is None else before.fractions.percents,
        None if after is None or after.fractions is None else after.fractions.percents,
        _class_of(before),
        _class_of(after),
        _curve_of(before),
        _curve_of(after),
    )


def _class_of(distribution: SizeDistribution | None) -> str:
    return "" if distribution is None or distribution.texture is None else distribution.texture.name


def _curve_of(distribution: SizeDistribution | None) -> tuple[tuple[float, float], ...]:
    if distribution is None:
        return ()
    return tuple((point.diameter_um, point.percent_finer) for point in distribution.curve)
