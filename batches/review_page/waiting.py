"""Batches that wait for a review, what matters most first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, QuerySet, Subquery
from django.utils import timezone

from batches.causes.answered import why_fallen, with_reopening
from batches.causes.models import CauseAnswer, CauseList
from batches.computing.models import ComputationRequest, Result
from batches.planning.models import UNDER_REVIEW, Batch, BatchMove, Run
from batches.repeating.decided import HELD_BACK
from batches.review.models import RunDecision
from particles.records.person import Person

SOON = timedelta(days=1)
"""A promised day so near comes before everything else."""


@dataclass(frozen=True)
class WaitingBatch:
    """One batch that waits, with what a reviewer chooses by."""

    batch: Batch
    samples: int
    uncomputed: int
    """Runs whose figures wait for the worker."""
    decisions: int
    notes: int
    clients: tuple[str, ...]
    wanted_by: date | None
    """The earliest day a client was promised."""
    handed_over_by: Person | None
    waiting_since: datetime
    waiting: timedelta

    @property
    def waiting_h(self) -> float:
        return self.waiting.total_seconds() / 3600


def waiting_batches(*, at: datetime) -> list[WaitingBatch]:
    """Every batch handed over: first what is promised soon, then by open decisions, then by how long it waits."""
    handed_over = BatchMove.objects.filter(to_state__in=UNDER_REVIEW).select_related("by").order_by("-pk")
    lists = CauseList.objects.defer("causes").order_by("-pk")
    answers = with_reopening(CauseAnswer.objects.order_by("pk"))
    waiting = Batch.objects.filter(state__in=UNDER_REVIEW).prefetch_related(
        Prefetch("moves", handed_over, to_attr="handed_over"),
        Prefetch("cause_lists", lists, to_attr="newest_first"),
        Prefetch("cause_answers", answers),
        Prefetch("runs", _with_decisions().select_related("portion__sample__job__client")),
    )
    soon = timezone.localdate(at + SOON)
    return sorted((_row(batch, at) for batch in waiting), key=lambda row: _rank(row, soon))


def _with_decisions() -> QuerySet[Run]:
    """Runs, each with the newest decision on the result in force as `decided`, and whether there is one."""
    request = ComputationRequest.objects.filter(run=OuterRef("pk")).order_by("-turn").values("pk")[:1]
    newest = RunDecision.objects.filter(result__request=OuterRef("request_in_force")).order_by("-pk")
    return (
        Run.objects.in_plan()
        .annotate(request_in_force=Subquery(request))
        .annotate(
            decided=Subquery(newest.values("choice")[:1]),
            is_computed=Exists(Result.objects.filter(request=OuterRef("request_in_force"))),
        )
    )


def _rank(row: WaitingBatch, soon: date) -> tuple[date, int, int, datetime]:
    promised = row.wanted_by if row.wanted_by is not None and row.wanted_by <= soon else date.max
    return (promised, -row.decisions, -row.notes, row.waiting_since)


def _row(batch: Batch, at: datetime) -> WaitingBatch:
    move: BatchMove | None = next(iter(batch.handed_over), None)  # type: ignore[attr-defined]
    newest: CauseList | None = next(iter(batch.newest_first), None)  # type: ignore[attr-defined]
    asks: dict[str, str] = {} if newest is None else newest.asks
    told: dict[str, Any] = {} if newest is None else newest.told
    runs: list[Any] = list(batch.runs.all())
    held = {run.title for run in runs if run.decided in HELD_BACK}
    answered = {answer.key: answer for answer in batch.cause_answers.all()}
    still = [
        needs
        for key, needs in asks.items()
        if key not in answered or why_fallen(answered[key], needs, told.get(key), held)
    ]
    jobs = [run.portion.sample.job for run in runs if run.portion is not None and not run.is_reference]
    since = batch.planned_at if move is None else move.at
    return WaitingBatch(
        batch=batch,
        samples=sum(not run.is_blank and run.is_reported for run in runs),
        uncomputed=sum(not run.is_blank and not run.is_computed for run in runs),
        decisions=still.count("decision"),
        notes=still.count("note"),
        clients=tuple(sorted({job.client.name for job in jobs})),
        wanted_by=min((job.wanted_by for job in jobs if job.wanted_by is not None), default=None),
        handed_over_by=None if move is None else move.by,
        waiting_since=since,
        waiting=at - since,
    )
