"""Review by somebody else: flags and pairs first, then a decision for each run, then a signature."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from batches.causes.kept import AnsweredCause, causes_in_force, find_and_keep
from batches.computing.models import Flag, Result, result_in_force
from batches.computing.record import gather
from batches.computing.rules import ask_for_batch, is_complete
from batches.planning.models import MOVES, Batch, BatchState, Run
from batches.quality.models import PairReview
from batches.quality.pairs import Pair, pair_of, pairs_among
from batches.review.examination import ExaminedRun, examine
from batches.review.models import QualityLook, RunDecision
from batches.review.password import require_secret
from batches.review.verdict import Verdict, verdict_of
from particles.distribution import record_digest
from particles.models import SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState

FEWEST_WORDS_ON_A_STOP = 4
NEXT_WHEN_IT_DIFFERS = "Return the batch to the bench and tell whoever looks after the program."
COMPARED_ONLY = "compared only"
"""Stands in place of a choice for a duplicate, which is never reported."""


def fresh_result(run: Run) -> Result | None:
    """The result that belongs to what is recorded now; None while it is being computed."""
    if not is_complete(run):
        return None
    digest = record_digest(gather(run), run.batch.method.edition)
    return run.results.filter(inputs_digest=digest).first()


def submit(batch: Batch, *, by: Person, at: datetime) -> None:
    """Hand a batch to review: all readings there, all runs computed from what is recorded now."""
    with transaction.atomic():  # kept even when the batch cannot be submitted yet
        locked = batch.lock()
        if BatchState.SUBMITTED not in MOVES.get(locked.state, ()):
            raise WrongState(f"{locked} is “{locked.state}” and cannot be handed over to review.")
        ask_for_batch(locked, by=by, at=at)  # a new engine, for instance, leaves nothing computed
    with transaction.atomic():
        _submit(batch.lock(), by=by, at=at)


def _submit(batch: Batch, *, by: Person, at: datetime) -> None:
    runs = examine(batch)
    waiting = [each.run.cylinder.serial for each in runs if each.result is None]
    if waiting:
        raise NotPossible(
            f"Not computed yet: cylinder {', '.join(waiting)}. Wait for the worker, or complete the readings."
        )
    batch.transition(BatchState.SUBMITTED, by=by, at=at)
    for each in runs:
        sample = each.run.sample
        if not each.run.is_duplicate and sample.state == SampleState.CALCULATED:
            sample.transition(SampleState.UNDER_REVIEW, by=by, at=at, reason=str(batch))
    find_and_keep(batch, runs, verdict_of(batch, runs), at=at)


@transaction.atomic
def look_at_quality(batch: Batch, *, note: str, by: Person, at: datetime) -> QualityLook:
    """Keep a reviewer's word that quality control was looked at; what did not pass needs words."""
    batch = batch.lock()
    require_under_review(batch)
    batch.require_other_person(by)
    verdict = verdict_of(batch, examine(batch))
    if not verdict.passed and len(note.split()) < FEWEST_WORDS_ON_A_STOP:
        failed = ", ".join(line.name for line in verdict.lines if not line.passed)
        raise NotPossible(f"{failed}: did not pass. Say in a sentence what was looked at, and what follows.")
    return QualityLook.objects.create(
        batch=batch, passed=verdict.passed, said=verdict.in_words, note=note.strip(), **done(by, at)
    )


def quality_look_in_force(batch: Batch, verdict: Verdict) -> QualityLook | None:
    """The newest look at quality control that saw what it says now; None without."""
    newest = batch.quality_looks.select_related("by").order_by("-pk").first()
    return newest if newest is not None and newest.said == verdict.in_words else None


def _require_said(note: str, severity: str) -> None:
    if severity == Flag.Severity.STOP and len(note.split()) < FEWEST_WORDS_ON_A_STOP:
        raise NotPossible("A stop needs a sentence: what was looked at, and what follows.")
    if not note.strip():
        raise NotPossible("Write what was looked at.")


@transaction.atomic
def review_pair(duplicate: Run, *, note: str, cause_found: bool, by: Person, at: datetime) -> PairReview:
    """Keep a reviewer's note on two runs of one sample that differ by too much; the certificate always says so."""
    batch = duplicate.batch.lock()
    require_under_review(batch)
    batch.require_other_person(by)
    pair = pair_of(duplicate)
    first, second = (None, None) if pair is None else (pair.first_result, pair.duplicate_result)
    if pair is None or first is None or second is None or not pair.severity:
        raise NotPossible(f"{duplicate.title} lies within its limits; there is nothing to say to it.")
    if pair.review is not None:
        raise WrongState(f"This pair was reviewed already by {pair.review.by}.")
    _require_said(note, pair.severity)
    return PairReview.objects.create(
        first=first,
        duplicate=second,
        sentence=pair.sentence,
        severity=pair.severity,
        note=note,
        cause_found=cause_found,
        **done(by, at),
    )


@transaction.atomic
def decide(
    result: Result, choice: str, *, note: str, by: Person, at: datetime, seen: int | None = None
) -> RunDecision:
    """Decide what leaves the laboratory for one run; `seen` is the newest decision a page knew, 0 for none."""
    batch = result.run.batch.lock()
    require_under_review(batch)
    batch.require_other_person(by)
    _require_seen(result, seen)
    if result.run.is_duplicate:
        raise NotPossible(f"{result.run.title} is compared with the first portion and never reported.")
    if choice == RunDecision.Choice.REPORT and not result.certifiable:
        raise NotPossible(
            f"{result.run.title} has a stop: its figures cannot be certified. Report without, or repeat."
        )
    pair = pair_of(result.run)
    if choice == RunDecision.Choice.REPORT and pair is not None and pair.severity == Flag.Severity.STOP:
        raise NotPossible(f"{result.run.title}: {pair.sentence} Report it without figures, or repeat it.")
    if choice != RunDecision.Choice.REPORT and not note.strip():
        raise NotPossible("Say why the figures are not reported as they are.")
    return RunDecision.objects.create(result=result, choice=choice, note=note, **done(by, at))


def _require_seen(result: Result, seen: int | None) -> None:
    """Refuse a decision made on a page older than the newest one of the same run."""
    newest = result.decisions.select_related("by").order_by("-pk").first()
    if seen is not None and newest is not None and newest.pk != seen:
        raise AlreadyThere(
            f"{newest.by} decided on {result.run.title} on {timezone.localtime(newest.at):%-d %b, %H:%M}, after "
            f"this page was opened: {newest.get_choice_display()}. Read it, then decide again."
        )


def decision_of(result: Result) -> str | None:
    """The choice in force: the newest, or to report when nothing stands against it."""
    if result.run.is_duplicate:
        return COMPARED_ONLY
    newest = max(result.decisions.all(), key=lambda decision: decision.pk, default=None)
    if newest is not None:
        return str(newest.choice)
    return str(RunDecision.Choice.REPORT) if result.certifiable else None


def what_stands_against(
    runs: list[ExaminedRun], causes: Sequence[AnsweredCause], verdict: Verdict, look: QualityLook | None
) -> list[str]:
    """Reasons that keep a batch of these runs from being approved, as sentences."""
    settled = {(told.label, told.code, told.reading_index) for each in causes for told in each.cause.told_by}
    found = []
    if not verdict.passed and look is None:
        found.append("Quality control did not pass, and nobody has answered it.")
    found += [f"{', '.join(each.cause.labels)}: {each.asks}" for each in causes if each.is_open]
    for each in runs:
        title, result = each.run.title, each.result
        if result is None:
            found.append(f"{title}: no result for what is recorded now.")
            continue
        if each.second is not None and each.second.differs:
            found.append(f"{title}: {each.second.sentence} {NEXT_WHEN_IT_DIFFERS}")
        open_flags = [
            f
            for f in result.flags.all()
            if f.needs_review and (title, f.code, f.reading_index) not in settled
        ]
        if open_flags:
            found.append(f"{title}: {len(open_flags)} flag(s) without a reviewer's note.")
        if decision_of(result) is None:
            found.append(f"{title}: decide whether it is repeated or reported without figures.")
    return found + [sentence for pair in pairs_of(runs) for sentence in _against_a_pair(pair)]


def pairs_of(runs: list[ExaminedRun]) -> list[Pair]:
    """Pairs among the examined runs of one batch."""
    return pairs_among([(each.run, each.result) for each in runs], runs[0].run.batch) if runs else []


def _against_a_pair(pair: Pair) -> list[str]:
    if not pair.severity:
        return []
    title, found = pair.first.title, []
    if pair.review is None:
        found.append(f"{title}: it differs from its duplicate, and there is no reviewer's note on that.")
    stops = pair.severity == Flag.Severity.STOP
    if (
        stops
        and pair.first_result is not None
        and decision_of(pair.first_result) == RunDecision.Choice.REPORT
    ):
        found.append(
            f"{title}: beyond the action limit; decide whether it is repeated or reported without figures."
        )
    return found


def digest_of(results: list[Result]) -> str:
    """Digest of what a signature covers: every result and decision of the batch, in order of its cylinders."""
    lines = [f"{r.run_id} {r.inputs_digest} {r.engine_version} {decision_of(r)}" for r in results]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def approve(batch: Batch, *, by: Person, at: datetime, secret: str) -> None:
    """Sign the whole batch. Refused to whoever worked in it, and without the person's secret."""
    if not by.has_perm("batches.review"):
        raise NotThisPerson(f"{by} is not authorised to approve batches.")
    require_secret(by, secret)
    with transaction.atomic():
        _approve(batch.lock(), by=by, at=at)


def _approve(batch: Batch, *, by: Person, at: datetime) -> None:
    require_under_review(batch)
    batch.require_other_person(by)
    runs = examine(batch)
    verdict = verdict_of(batch, runs)
    look = quality_look_in_force(batch, verdict)
    against = what_stands_against(runs, causes_in_force(batch, runs, verdict, at=at).causes, verdict, look)
    if against:
        raise NotPossible(" ".join(against))
    batch.transition(
        BatchState.APPROVED,
        by=by,
        at=at,
        reason="reviewed and approved",
        approved_by=by,
        approved_at=at,
        approved_digest=digest_of([each.result for each in runs if each.result is not None]),
    )
    for each in runs:
        if each.run.is_duplicate:
            continue
        assert each.result is not None
        if decision_of(each.result) == RunDecision.Choice.REPEAT:
            to, reason = SampleState.PREPARED, f"repeat after {batch}"
        else:
            to, reason = SampleState.APPROVED, str(batch)
        each.run.sample.transition(to, by=by, at=at, reason=reason)


@transaction.atomic
def return_to_bench(batch: Batch, *, by: Person, at: datetime, reason: str) -> None:
    """Return the batch to the technician with a reason; nothing recorded is lost."""
    batch = batch.lock()
    batch.require_other_person(by)
    if not reason.strip():
        raise NotPossible("Say what the bench should look at.")
    batch.transition(BatchState.RETURNED, by=by, at=at, reason=reason)
    for run in batch.reported_runs:
        sample = run.sample
        if sample.state == SampleState.UNDER_REVIEW:
            sample.transition(SampleState.IN_BATCH, by=by, at=at, reason=reason)
            sample.transition(SampleState.CALCULATED, by=by, at=at, reason="results so far")


@transaction.atomic
def reject(batch: Batch, *, by: Person, at: datetime, reason: str) -> None:
    """Reject a batch that cannot be used: every sample goes back for a new portion."""
    batch = batch.lock()
    batch.require_other_person(by)
    if not reason.strip():
        raise NotPossible("Say why the batch is rejected.")
    batch.transition(BatchState.REJECTED, by=by, at=at, reason=reason)
    for run in batch.reported_runs:
        run.sample.transition(SampleState.PREPARED, by=by, at=at, reason=f"{batch} rejected: {reason}")


def signed_results(batch: Batch) -> dict[int, Result]:
    """
    The results of an approved batch by run, as they were signed.

    Refused when what is in force is not what the signature covers.
    """
    results = [result_in_force(run) for run in batch.sample_runs]
    found = [result for result in results if result is not None]
    if batch.state != BatchState.APPROVED or len(found) != len(results):
        raise NotPossible(f"{batch} has no approved results.")
    if digest_of(found) != batch.approved_digest:
        raise NotPossible(
            f"The results of {batch} are not those {batch.approved_by} signed. Nothing is issued; tell the QA officer."
        )
    return {result.run_id: result for result in found}


def require_under_review(batch: Batch) -> None:
    """Refuse what is done while a batch waits for review, in any other state; who brought it there is named."""
    if batch.state != BatchState.SUBMITTED:
        move = batch.moves.select_related("by").order_by("pk").last()
        by_whom = (
            "" if move is None else f" {move.by} did that on {timezone.localtime(move.at):%-d %b %Y, %H:%M}."
        )
        raise WrongState(
            f"{batch} is “{batch.state}”, not submitted for review.{by_whom} Nothing was done now."
        )
