"""A batch that went back to the bench: why, what has been done since, and each figure before and after."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from batches.computing.models import ComputationRequest, Result
from batches.planning.freshness import ActSince, bench_acts_after
from batches.planning.models import Batch, BatchMove, BatchState, Run
from particles.distribution import Fractions


@dataclass(frozen=True)
class FiguresSince:
    """The result of one run when the batch went back, and the one in force now."""

    run: Run
    before: Result | None
    now: Result | None

    @property
    def has_changed(self) -> bool:
        """Whether the run has another result now."""
        return self.before != self.now

    @property
    def fractions(self) -> tuple[Fractions | None, Fractions | None]:
        """Fractions before and now; None where there are no figures."""
        return _fractions(self.before), _fractions(self.now)


def _fractions(result: Result | None) -> Fractions | None:
    distribution = None if result is None else result.distribution
    return None if distribution is None else distribution.fractions


@dataclass(frozen=True)
class SinceReturn:
    """What the reviewer asked for when a batch went back, and what the bench did then."""

    by: Any
    at: datetime
    reason: str
    answer: str
    """The words the bench handed it back with; '' for none, or while it has not."""
    acts: tuple[ActSince, ...]
    """Acts of the bench's side since, the first first."""
    figures: tuple[FiguresSince, ...]
    """Every run of the plan that holds soil, in the order of the cylinders."""

    @property
    def is_unchanged(self) -> bool:
        """Whether nothing at all was done since."""
        return not self.acts and not any(each.has_changed for each in self.figures)


def last_return(batch: Batch) -> BatchMove | None:
    """The last move of a batch back to the bench; None when it never went back."""
    returns = batch.moves.filter(to_state=BatchState.RETURNED).select_related("by").order_by("pk")
    return returns.last()


def since_return(batch: Batch) -> SinceReturn | None:
    """Gather what happened since a batch last went back to the bench; None when it never did."""
    move = last_return(batch)
    if move is None:
        return None
    handed_back = batch.moves.filter(to_state=BatchState.SUBMITTED, pk__gt=move.pk).order_by("pk").first()
    return SinceReturn(
        by=move.by,
        at=move.at,
        reason=move.reason,
        answer="" if handed_back is None else handed_back.reason,
        acts=tuple(bench_acts_after(batch, move.at)),
        figures=tuple(_figures_since(batch, move)),
    )


def _figures_since(batch: Batch, move: BatchMove) -> Iterator[FiguresSince]:
    """The result in force for each run when the batch made a move, by the history of its requests, and the one now."""
    moved_at = _own_history(move).order_by("pgh_id").values_list("pgh_created_at", flat=True)[0]
    of_batch = ComputationRequest.objects.filter(run__batch=batch).values_list("run", "pk", "turn")
    events: Any = ComputationRequest._meta.get_field("events").related_model
    then = events.objects.filter(pgh_obj__run__batch=batch, pgh_created_at__lte=moved_at).order_by("pgh_id")
    turns_then = {
        request: (run, request, turn) for run, request, turn in then.values_list("run", "pgh_obj", "turn")
    }
    results = {result.request_id: result for result in Result.objects.filter(run__batch=batch)}
    for run in batch.sample_runs.order_by("position"):
        before, now = (
            results.get(max(((turn, pk) for of, pk, turn in rows if of == run.pk), default=(0, 0))[1])
            for rows in (turns_then.values(), of_batch)
        )
        yield FiguresSince(run, before, now)


def _own_history(move: BatchMove) -> Any:
    return move.events  # type: ignore[attr-defined]
