"""A run that was made void by mistake counts again."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from batches.bench.models import NOTED_IN
from batches.computing.rules import ask_for_batch
from batches.planning.models import BatchState, Run
from batches.voiding.models import VoidLifted
from particles.records.refusals import NotPossible, WrongState

LIFTED_IN = (*NOTED_IN, BatchState.SUBMITTED)
"""While a void may be lifted."""


@transaction.atomic
def lift_void(run: Run, *, reason: str, by: Any, at: datetime) -> VoidLifted:
    """
    A run made void by mistake counts again, as the QA officer decides; the act that voided it stays on record.

    Of a batch under review nothing is computed: it goes back to the bench first.
    """
    batch = run.batch.lock()
    batch.require_other_person(by)
    if batch.state not in LIFTED_IN:
        raise WrongState(f"{batch} is “{batch.state}”; what is void in it stays void.")
    void = run.void
    if void is None:
        raise NotPossible(f"{run} is not void.")
    if run.first_started_at is None and batch.state not in (BatchState.DISPERSED, BatchState.RUNNING):
        raise NotPossible(
            f"{run} was never started, and no cylinder of {batch} starts any more. Repeat the sample."
        )
    if not reason.strip():
        raise NotPossible("Say why the run is not void.")
    lifted = VoidLifted.objects.create(void=void, reason=reason, by=by, at=at)
    ask_for_batch(batch, by=by, at=at)
    return lifted
