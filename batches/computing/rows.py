"""Rows of the cylinders of a batch as a page shows them, in a constant number of queries."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch

from batches.bench.rules import current_readings
from batches.computing.models import ComputationRequest, Flag, RequestState, Result
from batches.planning.models import Batch, BatchState, Run
from batches.voiding.models import RunVoid, void_of
from particles.distribution import Fractions, TextureClass

STEPS = (
    BatchState.PLANNED,
    BatchState.SOAKING,
    BatchState.DISPERSED,
    BatchState.RUNNING,
    BatchState.READINGS_COMPLETE,
    BatchState.SUBMITTED,
    BatchState.APPROVED,
)
STATE_KINDS = {
    BatchState.APPROVED: "done",
    BatchState.RETURNED: "held",
    BatchState.REOPENED: "held",
    BatchState.REJECTED: "refused",
    BatchState.ABORTED: "refused",
}
RANK: dict[str, int] = {Flag.Severity.STOP: 0, Flag.Severity.WARN: 1, Flag.Severity.NOTE: 2}


def state_kind(state: str) -> str:
    """The outline that the word of a batch's state gets on a page."""
    return STATE_KINDS.get(BatchState(state), "open")


@dataclass(frozen=True)
class Step:
    """One step of a batch's usual way, done, current or still to come."""

    name: str
    is_done: bool
    is_current: bool


def steps(state: str) -> list[Step]:
    """Steps of a batch's usual way, with the one where this batch stands; none for one that was given up."""
    instead = {BatchState.RETURNED: BatchState.READINGS_COMPLETE, BatchState.REOPENED: BatchState.SUBMITTED}
    here = next((step for other, step in instead.items() if other == state), state)
    if here not in STEPS:
        return []
    place = STEPS.index(BatchState(here))
    names = {here: state}
    finished = here == BatchState.APPROVED
    return [
        Step(str(names.get(step, step.value)), n < place or finished, n == place and not finished)
        for n, step in enumerate(STEPS)
    ]


@dataclass(frozen=True)
class CylinderRow:
    """One run of a batch with its readings counted and the result in force."""

    run: Run
    slots: int
    slots_read: int
    started: bool
    void: RunVoid | None
    request: ComputationRequest | None
    result: Result | None
    fractions: Fractions | None
    texture: TextureClass | None

    @property
    def waits_for_worker(self) -> bool:
        """Whether a computation of the run is asked for or under way."""
        return self.request is not None and self.request.state in (RequestState.ASKED, RequestState.RUNNING)

    @property
    def computation_failed(self) -> bool:
        """Whether the computation of the run has failed."""
        return self.request is not None and self.request.state == RequestState.FAILED

    @property
    def flags(self) -> list[Flag]:
        """Flags of the result that need a look, the most serious first."""
        found = [] if self.result is None else self.result.flags.all()
        return sorted((f for f in found if f.severity != Flag.Severity.NOTE), key=lambda f: RANK[f.severity])


def runs_with_all(batch: Batch) -> list[Run]:
    """Runs of the plan in order of position, with all that a row reads fetched beforehand."""
    results = Result.objects.order_by("pk").prefetch_related("flags")
    return list(
        batch.runs.in_plan()
        .select_related("cylinder", "portion__sample__job", "run_start")
        .prefetch_related("readings", "voids__lifted", "replunges", "requests", Prefetch("results", results))
        .order_by("position")
    )


def cylinder_rows(batch: Batch) -> list[CylinderRow]:
    """A row for every run of the plan, in order of position."""
    slots = len(batch.method.edition.schedule_s)
    return [_row(run, slots) for run in runs_with_all(batch)]


def _row(run: Run, slots: int) -> CylinderRow:
    request = max(run.requests.all(), key=lambda r: r.turn, default=None)
    result = next((r for r in run.results.all() if request is not None and r.request_id == request.pk), None)
    distribution = None if result is None else result.distribution
    return CylinderRow(
        run=run,
        slots=slots,
        slots_read=len(current_readings(run)),
        started=hasattr(run, "run_start"),
        void=void_of(run),
        request=request,
        result=result,
        fractions=None if distribution is None else distribution.fractions,
        texture=None if distribution is None else distribution.texture,
    )
