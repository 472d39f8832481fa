"""The causes behind a batch's findings, ranked by what they do to the figures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from particles.distribution.answer import Severity, SizeDistribution
from particles.distribution.causes.blanks import COMPANIONS, LEVEL, MOVED, blank_causes
from particles.distribution.causes.cause import (
    Cause,
    Effect,
    Needs,
    Remedy,
    Told,
    cause_of,
)
from particles.distribution.causes.effects import effect_between
from particles.distribution.causes.evidence import BatchEvidence, ControlOutcome, RunEvidence
from particles.distribution.causes.exchanges import FoundExchange, exchange_finding, find_exchanges
from particles.distribution.causes.likelihood import Seen, seen_as
from particles.distribution.causes.runs import (
    FLOCCULATED,
    JOIN,
    READINGS,
    flocculated_causes,
    join_causes,
    other_causes,
    reading_causes,
    unfelt_causes,
)
from particles.distribution.causes.singles import duplicate_causes, hand_causes, mass_causes
from particles.distribution.compute import compute_distribution
from particles.distribution.errors import DistributionError
from particles.distribution.findings.catalogue import finding
from particles.distribution.method.edition import MethodEdition
from particles.distribution.neighbours.batch import BatchRun, batch_findings

EXPLAINED = READINGS | FLOCCULATED | JOIN | {"hand_disagrees", "duplicate_outside_limit"}
"""Codes that an exchange explains in the two runs it concerns."""
EVEN_ODDS = 1.0
"""From here on an exchange was rather so than not. [-]"""


def find_causes(batch: BatchEvidence, method: MethodEdition) -> tuple[Cause, ...]:
    """
    The causes behind everything that is found in a batch, the largest effect on the figures first.

    Parameters
    ----------
    batch : runs in the order of their cylinders, of one edition, readings in the slots of its schedule.

    Returns
    -------
    Decisions first, then notes, then what is only looked at. Every finding of every run is told by one of them.
    """
    seen = {run.label: Seen(run, run.record, run.distribution) for run in batch.runs}
    told = _told(batch, method)
    exchanges = [_exchange_cause(found, batch, told, method) for found in find_exchanges(batch, seen, method)]
    # One that was rather not so explains nothing: what speaks of its runs is told for itself as well.
    explained = {label for cause in exchanges if not _rather_not(cause) for label in cause.labels}
    left = {
        label: [e for e in each if not (label in explained and e.code in EXPLAINED)]
        for label, each in told.items()
    }
    causes = [*exchanges, *blank_causes(batch.runs, left, method), *_of_runs(batch, left, explained, method)]
    causes += [_control_cause(outcome, batch) for outcome in batch.controls]
    return tuple(sorted(_asked_once(causes), key=_rank))


def _asked_once(causes: Iterable[Cause]) -> list[Cause]:
    """The causes; an exchange that was rather not so is only looked at where others decide on all of its runs."""
    listed = list(causes)
    decided = {
        label for c in listed if c.needs is Needs.DECISION and not _rather_not(c) for label in c.labels
    }
    return [
        replace(c, needs=Needs.LOOK) if _rather_not(c) and decided >= set(c.labels) else c for c in listed
    ]


def _rather_not(cause: Cause) -> bool:
    return cause.odds is not None and cause.odds < EVEN_ODDS


def _of_runs(
    batch: BatchEvidence, told: Mapping[str, list[Told]], explained: set[str], method: MethodEdition
) -> Iterator[Cause]:
    """Causes of single runs and pairs, without what an exchange explains."""
    yield from flocculated_causes(batch.runs, told)
    unfelt = [cause for cause in unfelt_causes(batch.runs, told) if not explained & set(cause.labels)]
    yield from unfelt
    yield from reading_causes(batch.runs, told, method)
    yield from join_causes(batch.runs, told, method)
    for cause in (*hand_causes(batch), *mass_causes(batch, method), *duplicate_causes(batch, method)):
        if not explained & set(cause.labels):
            yield cause
    rest = READINGS | FLOCCULATED | JOIN | MOVED | LEVEL
    blank_moved = any(
        each.code in MOVED and each.severity is not Severity.NOTE for found in told.values() for each in found
    )
    flocculated = {label for label, each in told.items() if any(e.code in FLOCCULATED for e in each)}
    flocculated |= {label for cause in unfelt for label in cause.labels}
    yield from other_causes(
        each
        for run in batch.runs
        for each in told.get(run.label, ())
        if each.code not in rest
        and not (each.code == "clear_late" and run.label in flocculated)
        and not (each.code in COMPANIONS and blank_moved)
    )


def _told(batch: BatchEvidence, method: MethodEdition) -> dict[str, list[Told]]:
    """Every finding of every run, those of its neighbours included, by label."""
    found: dict[str, list[Told]] = defaultdict(list)
    sound: list[BatchRun] = []
    for run in batch.runs:
        if run.waits:
            continue  # what is found of it is found when it is computed
        if run.distribution is None:
            found[run.label].append(_cannot(run, method))
            continue
        found[run.label] += [Told.of(run.label, each) for each in run.distribution.findings]
        measured = None if run.record.void else _as_measured(run, method)
        if measured is not None:
            sound.append(BatchRun(run.record, measured))
    for shared in batch_findings(sound, method):
        for label in shared.labels:
            found[label].append(Told.of(label, shared.finding))
    return found


def _as_measured(run: RunEvidence, method: MethodEdition) -> SizeDistribution | None:
    """What a run gives without blanks that were never read; None when nothing does."""
    if not method.interpolate_missing_blank:
        return run.distribution
    return seen_as(run, run.record, replace(method, interpolate_missing_blank=False)).distribution


def _cannot(run: RunEvidence, method: MethodEdition) -> Told:
    """Why nothing can be computed from a run, or that it is not computed yet."""
    try:
        compute_distribution(run.record, method, draws=0)
        what, number, step = "not computed yet", "", "Wait for the worker."
    except DistributionError as error:
        what, number, step = error.what, error.number, error.next_step
    shown: dict[str, Any] = {"shown": number} if number else {}
    each = finding(
        "cannot_be_computed", variant="number" if shown else "no_number", what=what, next_step=step, **shown
    )
    return Told.of(run.label, each)


def _exchange_cause(
    found: FoundExchange, batch: BatchEvidence, told: Mapping[str, Iterable[Told]], method: MethodEdition
) -> Cause:
    one, other = (batch[label] for label in found.labels)
    effects = tuple(
        effect_between(run.label, run.distribution, after.distribution)
        for run, after in zip((one, other), found.after, strict=True)
    )
    speaking = tuple(e for label in found.labels for e in told.get(label, ()) if e.code in EXPLAINED)
    return cause_of(
        exchange_finding(found, one.record),
        found.labels,
        needs=_needs_of_exchange(found.odds, effects),
        told_by=speaking,
        remedy=Remedy.EXCHANGE,
        slots=found.slots,
        with_sieves=found.with_sieves,
        effects=effects,
        odds=found.odds,
    )


def _needs_of_exchange(odds: float, effects: Iterable[Effect]) -> Needs:
    """
    What settles an exchange: a decision where it was rather so, or would be decisive whatever its odds.

    Missing one costs a client more than looking costs a reviewer.
    """
    return Needs.DECISION if odds >= EVEN_ODDS or any(each.decisive for each in effects) else Needs.NOTE


def _control_cause(outcome: ControlOutcome, batch: BatchEvidence) -> Cause:
    labels = outcome.labels or tuple(run.label for run in batch.runs)
    needs = {Severity.STOP: Needs.DECISION, Severity.WARN: Needs.NOTE, Severity.NOTE: Needs.LOOK}
    return Cause(
        kind=outcome.code,
        severity=outcome.severity,
        sentence=outcome.sentence,
        next_step="Answer what the quality control shows before the samples are judged.",
        labels=labels,
        needs=needs[outcome.severity],
    )


def _rank(cause: Cause) -> tuple[int, float, int]:
    return -cause.needs.weight, -cause.largest_pct, -cause.severity.weight
