"""Pairs of a first portion and its duplicate over all signed batches, and which of them tell of scatter."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from batches.computing.models import ComputationRequest, Result
from batches.nonconforming.models import NonconformingWork
from batches.planning.models import BatchState, Run
from batches.quality.models import PairReview
from batches.quality.statistics import COMPARED, ComparedPair
from batches.review.models import Approval, RunDecision
from particles.models import MethodEditionRecord


def compared_pairs(method: MethodEditionRecord) -> list[ComparedPair]:
    """
    Pairs of signed batches that hold figures, newest first; those that say nothing of scatter are marked.

    A pair says nothing of scatter when sand was found in two ways, when the reviewer found the cause of a difference,
    or did not let the first figures leave the laboratory for another reason than that difference. Whether one beyond
    its action limit counts is for a person to say; until then it does not. One of a batch that was re-opened says
    since when that is open.
    """
    runs = _duplicates_of(method)
    figures = _figures_in_force([pk for run in runs for pk in (run.pk, run.first_run)])
    reviews = {(r.first_id, r.duplicate_id): r for r in PairReview.objects.filter(duplicate__run__in=runs)}
    found = []
    for run in runs:
        first, second = figures.get(run.first_run), figures.get(run.pk)
        if first is not None and second is not None:
            found.append(_compared(run, first, second, _why_left_out(first, second, reviews)))
    return found


def _duplicates_of(method: MethodEditionRecord) -> list[Any]:
    """Runs of duplicates in signed batches of a method, newest first, each with its `first_run` and `open_since`."""
    signed = Approval.objects.filter(batch=OuterRef("batch")).order_by("-pk").values("at")[:1]
    runs = (
        Run.objects.in_plan()
        .filter(batch__method__code__in=method.family(), portion__duplicate_of__run__isnull=False)
        .annotate(open_since=NonconformingWork.open_since("batch"))
        .filter(Q(batch__state=BatchState.APPROVED) | Q(open_since__isnull=False))
    )
    return list(
        runs.select_related("batch__method", "portion__sample")
        .annotate(
            first_run=F("portion__duplicate_of__run"),
            signed_at=Coalesce("batch__approved_at", Subquery(signed)),
        )
        .order_by("-signed_at", "portion__sample__lab_number")
    )


Figures = dict[str, Any]


def _figures_in_force(runs: Iterable[int]) -> dict[int, Figures]:
    """Figures of each run's result in force, by run; runs with a stop or without fractions are left out."""
    newest = ComputationRequest.objects.filter(run=OuterRef("run")).order_by("-turn").values("pk")[:1]
    decided = RunDecision.objects.filter(result=OuterRef("pk")).order_by("-pk").values("choice")[:1]
    parts = "figures__fractions__"
    rows = (
        Result.objects.filter(run__in=list(runs), request=Subquery(newest), certifiable=True)
        .annotate(choice=Subquery(decided))
        .values(
            "pk", "run", "choice", f"{parts}sand__value_pct", f"{parts}clay__value_pct", f"{parts}sand_by"
        )
    )
    return {
        row["run"]: {name.removeprefix(parts).removesuffix("__value_pct"): v for name, v in row.items()}
        for row in rows
    }


def _why_left_out(first: Figures, second: Figures, reviews: dict[tuple[int, int], PairReview]) -> str:
    """The reason why a pair says nothing of scatter; '' for one that does."""
    if first["sand_by"] != second["sand_by"]:
        return f"sand by {first['sand_by']} in the first and by {second['sand_by']} in the duplicate"
    review = reviews.get((first["pk"], second["pk"]))
    if review is not None:
        return f"a cause was found: {review.note.rstrip('.')}" if review.cause_found else ""
    if first["choice"] not in (None, RunDecision.Choice.REPORT):
        return f"the reviewer decided on the first portion: {first['choice']}"
    return ""


def _compared(run: Any, first: Figures, second: Figures, why_out: str) -> ComparedPair:
    return ComparedPair(
        lab_number=run.sample.lab_number,
        batch_number=run.batch.number,
        at=run.batch.soak_started_at or run.batch.planned_at,
        first_run=run.first_run,
        duplicate_run=run.pk,
        sand_pct=(first["sand"], second["sand"]),
        clay_pct=(first["clay"], second["clay"]),
        bound={name: run.batch.between_run_in_force(name) for name in COMPARED},
        why_out=why_out,
        open_since=run.open_since,
    )
