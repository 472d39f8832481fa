"""Pairs of a first portion and its duplicate: those that stand, and what they say of the laboratory."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, OuterRef, Subquery

from batches.computing.models import ComputationRequest, Result
from batches.planning.models import BatchState, Run
from batches.quality.models import PairReview
from batches.quality.statistics import LeftOutPair, OwnSpread, StandingPair, spread_of
from batches.review.models import RunDecision
from particles.models import MethodEditionRecord

LOOKED_BACK = timedelta(days=365)
"""Pairs of approved batches count for so long: a laboratory's hands and mixers change."""


def own_spread(method: MethodEditionRecord, *, at: datetime) -> OwnSpread | None:
    """
    The laboratory's own spread, from the pairs of the year before `at` with this method, whatever its edition.

    None with fewer than 8 pairs, when all of them are equal, or when they scatter by more than is plausible.
    """
    return spread_of(standing_pairs(method, since=at - LOOKED_BACK, until=at))


def standing_pairs(
    method: MethodEditionRecord, *, since: datetime | None = None, until: datetime | None = None
) -> list[StandingPair]:
    """Pairs of approved batches, newest first, that count towards the laboratory's own figure."""
    return compared_pairs(method, since=since, until=until)[0]


def compared_pairs(
    method: MethodEditionRecord, *, since: datetime | None = None, until: datetime | None = None
) -> tuple[list[StandingPair], list[LeftOutPair]]:
    """
    Pairs of approved batches, newest first: those that count, and those that do not.

    A pair is left out while a run of it has a stop or no result in force, when sand was found in two ways, when the
    reviewer found the cause of a difference, or did not let the first figures leave the laboratory for another reason
    than that difference. Two runs that differ without a known cause count: without them the figure would be too small.
    """
    runs = _duplicates_of(method, since, until)
    figures = _figures_in_force([pk for run in runs for pk in (run.pk, run.first_run)])
    reviews = {(r.first_id, r.duplicate_id): r for r in PairReview.objects.filter(duplicate__run__in=runs)}
    standing, left_out = [], []
    for run in runs:
        first, second = figures.get(run.first_run), figures.get(run.pk)
        why = _why_left_out(first, second, reviews)
        if why or first is None or second is None:
            left_out.append(LeftOutPair(run.sample.lab_number, run.batch.number, run.pk, why))
        else:
            standing.append(_standing(run, first, second))
    return standing, left_out


def _duplicates_of(method: MethodEditionRecord, since: datetime | None, until: datetime | None) -> list[Any]:
    """Runs of duplicates in approved batches of a method, newest first, each with its `first_run`."""
    runs = Run.objects.in_plan().filter(
        batch__state=BatchState.APPROVED,
        batch__method__code__in=method.family(),
        portion__duplicate_of__run__isnull=False,
    )
    if since is not None:
        runs = runs.filter(batch__approved_at__gt=since)
    if until is not None:
        runs = runs.filter(batch__approved_at__lte=until)
    return list(
        runs.select_related("batch", "portion__sample")
        .annotate(first_run=F("portion__duplicate_of__run"))
        .order_by("-batch__approved_at", "-pk")
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


def _why_left_out(
    first: Figures | None, second: Figures | None, reviews: dict[tuple[int, int], PairReview]
) -> str:
    """The reason why a pair does not count; '' for one that counts."""
    if first is None or second is None:
        return "a run of it has a stop, or no result in force"
    if first["sand_by"] != second["sand_by"]:
        return f"sand by {first['sand_by']} in the first and by {second['sand_by']} in the duplicate"
    review = reviews.get((first["pk"], second["pk"]))
    if review is not None:
        return f"a cause was found: {review.note.rstrip('.')}" if review.cause_found else ""
    if first["choice"] not in (None, RunDecision.Choice.REPORT):
        return f"the reviewer decided on the first portion: {first['choice']}"
    return ""


def _standing(run: Any, first: Figures, second: Figures) -> StandingPair:
    return StandingPair(
        lab_number=run.sample.lab_number,
        batch_number=run.batch.number,
        approved_at=run.batch.approved_at,
        first_run=run.first_run,
        duplicate_run=run.pk,
        sand_pct=(first["sand"], second["sand"]),
        clay_pct=(first["clay"], second["clay"]),
    )
