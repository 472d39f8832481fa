"""
The rules of computing: a request is asked for, worked on and stored as a result.

`ask` writes the request and notifies a worker; `work` is what a worker does with it; `notify_again`
finds what was left. Each may run any number of times, at once, and be killed anywhere.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from celery import current_app
from django.db import OperationalError, transaction
from django.utils import timezone
from kombu.exceptions import OperationalError as QueueError

from batches.bench.instruments import unfit_slots
from batches.computing.models import ComputationRequest, Flag, RequestState, Result
from batches.computing.record import gather
from batches.exchanging.arrangement import Arrangement, arrangement_of
from batches.planning.models import CLOSED, UNDER_REVIEW, Batch, Run
from particles.distribution import (
    ENGINE_VERSION,
    DistributionError,
    Finding,
    RunRecord,
    SizeDistribution,
    compute_distribution,
    finding,
    record_digest,
    record_to_plain,
    seen_findings,
    to_plain,
)
from particles.distribution.findings.needed import with_left_out
from particles.models import Sample, SampleState
from particles.records.person import Person

NOT_COMPUTED_NOW = (*CLOSED, *UNDER_REVIEW)
"""What a reviewer looks at, or signed, is not computed anew behind their back, but by an act of review."""
COMPUTE_RUN = "batches.compute_run"
"""Name of the task that workers know; the task imports these rules, not they the task."""

logger = logging.getLogger(__name__)


def is_complete(run: Run, arrangement: Arrangement | None = None) -> bool:
    """Whether every slot of this run and of its blank holds a reading or a reason."""
    if run.is_blank:
        return False
    held = arrangement or arrangement_of(run.batch)
    return not held.missing(run) and not held.missing(run.batch.blank)


def ask(
    run: Run,
    *,
    by: Person,
    at: datetime,
    arrangement: Arrangement | None = None,
    closed: tuple[str, ...] = NOT_COMPUTED_NOW,
) -> ComputationRequest | None:
    """Ask for the run as it stands, once for each state of its inputs; None while it is incomplete."""
    if run.batch.state in closed:
        return None
    held = arrangement or arrangement_of(run.batch)
    if not is_complete(run, held):
        return None
    digest = record_digest(gather(run, held), run.batch.method.edition)
    in_force = run.requests.order_by("-turn").first()
    if in_force is not None and in_force.inputs_digest == digest:
        return _again_if_without_result(in_force)
    turn = 1 if in_force is None else in_force.turn + 1
    request, made = ComputationRequest.objects.update_or_create(
        run=run,
        inputs_digest=digest,
        defaults={"turn": turn},
        create_defaults={"turn": turn, "asked_by_id": by.pk, "asked_at": at},
    )
    if not made:
        return _again_if_without_result(request)
    transaction.on_commit(lambda: notify_worker(request.pk))
    return request


def _again_if_without_result(request: ComputationRequest) -> ComputationRequest:
    """Ask once more for a request that ended without a result, its inputs changed or its worker lost."""
    if request.state in (RequestState.DONE, RequestState.FAILED) and not hasattr(request, "result"):
        request.state, request.attempts, request.error = RequestState.ASKED, 0, ""
        request.save(update_fields=["state", "attempts", "error"])
        transaction.on_commit(lambda: notify_worker(request.pk))
    return request


def ask_for_batch(
    batch: Batch, *, by: Person, at: datetime, closed: tuple[str, ...] = NOT_COMPUTED_NOW
) -> None:
    """Ask for every run of the batch that is complete; none is while the blank is not."""
    arrangement = arrangement_of(batch)
    if arrangement.missing(batch.blank):
        return
    for run in batch.sample_runs.prefetch_related("readings", "replunges", "voids__lifted"):
        ask(run, by=by, at=at, arrangement=arrangement, closed=closed)


def ask_under_review(batch: Batch, *, by: Person, at: datetime) -> None:
    """Ask for every run of a batch in which an act of review has changed what counts, though it is under review."""
    ask_for_batch(batch, by=by, at=at, closed=CLOSED)


def notify_worker(request_pk: int) -> None:
    """Send a worker the number of a request. A lost message loses nothing: the row is notified of again."""
    try:
        current_app.send_task(COMPUTE_RUN, (request_pk,), retry=False)
    except (QueueError, OSError) as error:
        logger.warning("The queue did not take the message for request %s: %s", request_pk, error)


def notify_again(*, at: datetime) -> int:
    """Notify of every request that has waited or whose worker fell silent, and return how many."""
    ComputationRequest.objects.give_up_lost(at=at)
    waiting = list(ComputationRequest.objects.waiting(at=at).values_list("pk", flat=True))
    for pk in waiting:
        notify_worker(pk)
    return len(waiting)


def work(request_pk: int, *, at: datetime) -> None:
    """Compute one request if nobody else has it; store its result with its flags in one transaction."""
    request = ComputationRequest.objects.claim(request_pk, at=at)
    if request is None:
        return
    try:
        run = Run.objects.select_related("batch__method", "portion__sample", "cylinder").get(
            pk=request.run_id
        )
        record = gather(run)
        if record_digest(record, run.batch.method.edition) != request.inputs_digest:
            _finish(request, note="The inputs changed before this was computed; the newer request counts.")
            return
        _store(request, run, record)
    except OperationalError as error:  # the database gave up for now: the request waits for the next notice
        ComputationRequest.objects.give_back(request, error=repr(error))
        raise
    except Exception as error:
        mine = ComputationRequest.objects.filter(
            pk=request.pk, state=RequestState.RUNNING, attempts=request.attempts
        )
        mine.update(state=RequestState.FAILED, error=repr(error))
        raise


def _finish(request: ComputationRequest, *, note: str = "") -> bool:
    return bool(
        ComputationRequest.objects.filter(
            pk=request.pk, state=RequestState.RUNNING, attempts=request.attempts
        ).update(state=RequestState.DONE, error=note)
    )


def _store(request: ComputationRequest, run: Run, record: RunRecord) -> None:
    edition = run.batch.method.edition
    try:
        distribution: SizeDistribution | None = compute_distribution(record, edition)
        refusal = None
    except DistributionError as error:
        distribution, refusal = None, error
    with transaction.atomic():
        if not _finish(request):  # given up as lost meanwhile: whoever has it now will store it
            return
        result = Result.objects.create(
            run=run,
            request=request,
            method=run.batch.method,
            inputs=record_to_plain(record),
            inputs_digest=request.inputs_digest,
            engine_version=ENGINE_VERSION,
            seed="" if distribution is None else str(distribution.seed),
            figures=None if distribution is None else to_plain(distribution),
            certifiable=distribution is not None and distribution.certifiable,
            computed_at=timezone.now(),
        )
        for flag in _flags(result, record, distribution, refusal):
            flag.save(force_insert=True)
        if (
            not run.is_reported
        ):  # the sample goes on with its first portion, a reference soil stays where it is
            return
        sample = Sample.objects.select_for_update(no_key=True).get(pk=run.sample.pk)
        if sample.state == SampleState.IN_BATCH and sample.portion == run.portion:
            sample.transition(
                SampleState.CALCULATED,
                by=request.asked_by,
                at=request.asked_at,
                reason="computed by the worker",
            )


def _flags(
    result: Result,
    record: RunRecord,
    distribution: SizeDistribution | None,
    refusal: DistributionError | None,
) -> list[Flag]:
    if distribution is not None:
        left_out = arrangement_of(result.run.batch).slots_left_out(result.run)
        found = with_left_out(distribution.findings, record, result.run.batch.method.edition, left_out)
        return [_flag(result, each) for each in found] + list(_batch_flags(result))
    assert refusal is not None
    shown: dict[str, Any] = {"shown": refusal.number} if refusal.number else {}
    cannot = finding(
        "cannot_be_computed",
        variant="number" if shown else "no_number",
        reading_index=refusal.reading_index,
        what=refusal.what,
        next_step=refusal.next_step,
        **shown,
    )
    return [_flag(result, each) for each in (cannot, *seen_findings(record))]


def _flag(result: Result, found: Finding) -> Flag:
    return Flag(
        result=result,
        code=found.code,
        severity=found.severity.value,
        sentence=found.sentence,
        next_step=found.next_step,
        number=found.number,
        unit=found.unit,
        reading_index=found.reading_index,
    )


def _batch_flags(result: Result) -> Iterator[Flag]:
    """Flags that the batch and the job's request add to a run."""
    batch = result.run.batch
    if result.run.sample.job.sand_by_sieve and result.inputs["sieving"] is None:
        yield _flag(result, finding("sieving_asked_for"))
    soaked_h, minimum_h = batch.soaked_h, batch.method.edition.soak_minimum_h
    if soaked_h is not None and soaked_h < minimum_h:
        yield _flag(result, finding("soak_short", number=soaked_h, minimum_h=minimum_h))
    maximum_h = batch.method.edition.soak_maximum_h
    if soaked_h is not None and soaked_h > maximum_h:
        yield _flag(result, finding("soak_long", number=soaked_h, maximum_h=maximum_h))
    arrangement = arrangement_of(batch)
    for run, of in ((result.run, "this run"), (batch.blank, "the blank")):
        for why, slots_s in unfit_slots(arrangement.readings(run)).items():
            yield _flag(
                result, finding("instrument_unfit", number=len(slots_s), of=of, why=why, first_s=slots_s[0])
            )
        for slot_s in arrangement.slots_left_out(run):
            yield _flag(result, finding("reading_left_out", number=float(slot_s), of=of))
