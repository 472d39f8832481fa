"""A run is made void, or counts again; a duplicate that cannot be weighed is taken out of its batch."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.text import capfirst

from batches.balance.models import Purpose, Weighing
from batches.bench.rules import first_started_at, is_read, open_bench, require_past
from batches.computing.rules import ask_for_batch
from batches.planning.models import NOTED_IN, UNDER_REVIEW, BatchState, Run, TakenOut
from batches.repeating.going_back import bring_back, require_no_new_portion, send_back
from batches.voiding.models import RunVoid, VoidLifted, void_of
from particles.models import Portion
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, WrongState

LIFTED_IN = (*NOTED_IN, *UNDER_REVIEW)
"""While a void may be lifted."""


@transaction.atomic
def lift_void(run: Run, *, reason: str, by: Person, at: datetime) -> VoidLifted:
    """
    A run made void by mistake counts again, as the QA officer decides; the act that voided it stays on record.

    Of a batch under review nothing is computed: it goes back to the bench first.
    """
    batch = run.batch.lock()
    batch.require_other_person(by)
    if batch.state not in LIFTED_IN:
        raise WrongState(f"{batch} is “{batch.state}”; what is void in it stays void.")
    void = void_of(run)
    if void is None:
        raise NotPossible(f"{run} is not void.")
    if first_started_at(run) is None and batch.state not in (BatchState.DISPERSED, BatchState.RUNNING):
        raise NotPossible(
            f"{run} was never started, and no cylinder of {batch} starts any more. Repeat the sample."
        )
    if not reason.strip():
        raise NotPossible("Say why the run is not void.")
    require_no_new_portion(run)
    lifted = VoidLifted.objects.create(void=void, reason=reason, **done(by, at))
    under_review = batch.state in UNDER_REVIEW
    bring_back(run, reason=f"{run} is not void: {reason}", under_review=under_review, by=by, at=at)
    ask_for_batch(batch, by=by, at=at)
    return lifted


def make_void(
    run: Run, *, why: str, note: str, voided_at: datetime, entry: Any, by: Person, at: datetime
) -> RunVoid:
    """Make a run void. What was measured stays on record; nothing more is read."""
    batch = open_bench(run, "no run is made void", states=NOTED_IN, by=by).batch
    require_past(voided_at, at)
    void = RunVoid.objects.create(
        run=run, why=why, note=note, voided_at=voided_at, entry=entry, **done(by, at)
    )
    send_back(void, by=by, at=at)
    if batch.state == BatchState.RUNNING and is_read(batch):
        batch.transition(BatchState.READINGS_COMPLETE, by=by, at=at)
    return void


@transaction.atomic
def take_out(portion: Portion, *, reason: str, entry: Any, by: Person, at: datetime) -> TakenOut:
    """Take the run of a duplicate out of a planned batch; its cylinder is free for another batch."""
    run = Run.objects.filter(portion=portion).select_related("batch").first()
    # Asked first and answered alike: whether the program chose a weighed portion is not to be found out here.
    if Weighing.objects.filter(portion=portion, purpose=Purpose.PORTION).exists():
        raise NotPossible(
            f"{capfirst(portion.beaker)} is weighed. It runs with the batch; void its run if soil was lost."
        )
    if run is None or run.is_reported:
        raise NotPossible(
            f"{capfirst(portion.beaker)} is none that the program asked for. "
            "Its batch is given up, or planned without it."
        )
    batch = run.batch.lock()
    if batch.state != BatchState.PLANNED:
        raise WrongState(f"{batch} is “{batch.state}”; a portion is taken out before the soak.")
    if (earlier := TakenOut.objects.filter(run=run).first()) is not None:
        raise AlreadyThere(
            f"{capfirst(portion.beaker)} was taken out already, by {earlier.by}: {earlier.reason}"
        )
    if not reason.strip():
        raise NotPossible("Say why the portion cannot be weighed.")
    return TakenOut.objects.create(run=run, reason=reason, entry=entry, **done(by, at))
