"""
The sample of a run on its way back: for a new portion when the run is made void, into the batch when that is lifted.

It goes by itself, so that nobody has to remember it. Which result is reported is settled at that moment, by
`RULE_BEFORE`, before any new one is seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Q, QuerySet

from batches.planning.models import Run
from batches.repeating.rules import RULE_BEFORE, SALTS_FIRST, attempts_at, salts_lost
from batches.voiding.models import RunVoid
from particles.models import Sample, SampleState
from particles.records.person import Person
from particles.records.refusals import NotPossible


def stands_here(run: Run) -> bool:
    """Whether the portion of a run is still the one its sample goes with."""
    return bool(run.sample.portion == run.portion)


def send_back(void: RunVoid, *, by: Person, at: datetime) -> None:
    """The sample of a run made void waits for a new portion; that of a duplicate or the blank stays."""
    run = void.run
    if not run.is_reported or not stands_here(run):
        return
    sample = run.sample.lock()
    if sample.state in (SampleState.IN_BATCH, SampleState.CALCULATED):
        salts = f" {SALTS_FIRST}" if void.why == RunVoid.Why.FLOCCULATED else ""
        reason = (
            f"cylinder {run.cylinder.serial} in {run.batch} is void: {void.in_words}.{salts} {RULE_BEFORE}"
        )
        sample.transition(SampleState.PREPARED, by=by, at=at, reason=reason)


def require_no_new_portion(run: Run) -> None:
    """Refuse to let a void run count again once another portion of its sample was opened."""
    if not run.is_reported or stands_here(run):
        return
    newer = run.sample.portion
    raise NotPossible(
        f"Another portion of this sample was opened by {newer.by} on {newer.at:%-d %b %Y}: its result is the one that "
        "is reported, whatever it is. The run stays void."
    )


def bring_back(run: Run, *, reason: str, under_review: bool, by: Person, at: datetime) -> None:
    """The sample that waited for a new portion stands in the batch of its run again, as far on as that is."""
    if not run.is_reported or not stands_here(run):
        return
    sample = run.sample.lock()
    if sample.state != SampleState.PREPARED:
        return
    sample.transition(SampleState.IN_BATCH, by=by, at=at, reason=reason)
    if run.results.exists():
        sample.transition(SampleState.CALCULATED, by=by, at=at, reason=reason)
        if under_review:
            sample.transition(SampleState.UNDER_REVIEW, by=by, at=at, reason=reason)


@dataclass(frozen=True)
class ComingBack:
    """One sample that waits for a further portion, with why, and what to do to it first."""

    sample: Sample
    why: str
    salts_first: bool
    """An earlier portion flocculated, and nothing was decided for the new one yet."""

    @property
    def advised(self) -> str:
        """The pretreatment that is advised for the new portion; '' when none is."""
        return SALTS_FIRST if self.salts_first else ""


def waiting_for_another(user: Any) -> QuerySet[Sample]:
    """Prepared samples that had a portion before; those that came back first stand first."""
    return (
        Sample.objects.visible_to(user)
        .filter(state=SampleState.PREPARED, reference_soil__isnull=True)
        .annotate(portion_count=Count("portions", filter=Q(portions__duplicate_of__isnull=True)))
        .filter(portion_count__gt=0)
        .select_related("job__client", "job__method")
        .prefetch_related("moves", "pretreatment_decisions", "portions__pretreatment")
        .order_by("job__received_at", "job", "line")
    )


def coming_back(samples: list[Sample]) -> list[ComingBack]:
    """Each of these samples with why it came back; the number of queries does not grow with them."""
    attempts = attempts_at(samples)
    return [
        ComingBack(sample, _why(sample), salts_lost(attempts[sample.pk]) and not _decided_anew(sample))
        for sample in samples
    ]


def _why(sample: Sample) -> str:
    last = max(sample.moves.all(), key=lambda move: move.pk)
    return f"{last.reason[:1].upper()}{last.reason[1:]}"


def _decided_anew(sample: Sample) -> bool:
    """Whether the newest decision on pretreatment was made after the last portion was opened."""
    newest = max(sample.pretreatment_decisions.all(), key=lambda decision: decision.pk, default=None)
    return newest is not None and all(portion.decision != newest for portion in sample.portions.all())
