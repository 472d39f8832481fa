"""Signing a batch: the lines kept with the signature, what becomes of each sample, and what was signed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from batches.causes.kept import AnsweredCause
from batches.computing.models import Result
from batches.planning.freshness import moment_in_words
from batches.planning.models import UNDER_REVIEW, Batch, BatchMove, BatchState, Run
from batches.repeating.decided import HELD_BACK, WITH_FIGURES, decided_as, decision_of, newest_decision
from batches.repeating.going_back import bring_back, stands_here
from batches.repeating.rules import RULE_BEFORE, new_portion_asked_for
from batches.review.examination import ExaminedRun
from batches.review.models import Approval, RunDecision
from batches.review.signature import (
    MEANING,
    RULE,
    covered_lines,
    digest_of_lines,
    standing_results,
    what_differs,
)
from particles.models import Sample, SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import NotPossible, WrongState
from particles.records.sentence import is_a_sentence


def was_reopened(moves: Sequence[BatchMove]) -> bool:
    """Whether a batch was re-opened and not signed since, by its moves in their order."""
    states = [move.to_state for move in moves if move.to_state in (BatchState.REOPENED, BatchState.APPROVED)]
    return bool(states) and states[-1] == BatchState.REOPENED


NO_PART = "Such a batch is only returned, analysed again or rejected."


def sign(
    batch: Batch,
    runs: list[ExaminedRun],
    *,
    by: Person,
    at: datetime,
    why_rest: str,
    what_became: str,
    shown: list[str],
) -> Approval:
    """Move the batch to approved and keep the signature with every line it covers."""
    results = [each.result for each in runs if each.result is not None]
    said = {"what became of what was found wrong": what_became, "why the rest is not touched": why_rest}
    also = [f"{what}: {words}" for what, words in said.items() if words]
    lines = covered_lines(batch, results, meaning=MEANING, shown=[*also, *shown])
    batch.transition(
        BatchState.APPROVED,
        by=by,
        at=at,
        reason="reviewed and approved",
        approved_by=by,
        approved_at=at,
        approved_digest=digest_of_lines(lines),
    )
    return Approval.objects.create(
        batch=batch,
        rule=RULE,
        digest=digest_of_lines(lines),
        meaning=MEANING,
        covered="\n".join(lines),
        why_rest=why_rest,
        what_became=what_became,
        **done(by, at),
    )


def against_a_part(
    runs: list[ExaminedRun], causes: Sequence[AnsweredCause], why_rest: str, failed: Sequence[str]
) -> list[str]:
    """
    What stands against an approval that holds samples back, or that is given though quality control failed.

    What failed concerns every run, and so does a cause for each run it touches: no reason releases a part of those.
    """
    found = [*no_figures_leave(runs, failed), *_released_with_a_cause(runs, causes)]
    if needs_why_rest(runs) and not is_a_sentence(why_rest):
        found.append(
            f"{', '.join(_repeated(runs))}: to be repeated. Say in a sentence why that does not touch the samples you "
            "approve, or reject the batch."
        )
    return found


def no_figures_leave(runs: list[ExaminedRun], failed: Sequence[str]) -> list[str]:
    """What quality control stops a batch for, which touches every run, while figures of it would leave; said once."""
    released = _released(runs)
    if not failed or not released:
        return []
    return [f"{' '.join(failed)} It touches every run, and so {', '.join(released)}. {NO_PART}"]


def _released_with_a_cause(runs: list[ExaminedRun], causes: Sequence[AnsweredCause]) -> list[str]:
    """Samples whose figures would leave though a cause touches them for which others are held back."""
    found, released = [], _released(runs)
    for each in causes:
        if each.answer is not None and each.answer.choice in HELD_BACK and not each.answer.rest_note:
            along = [title for title in each.cause.touched if title in released]
            if along:
                found.append(f"{each.cause.sentence} It touches {', '.join(along)} as well. {NO_PART}")
    return found


def needs_why_rest(runs: list[ExaminedRun]) -> bool:
    """Whether a signature must say why what is repeated does not touch the samples it approves."""
    return bool(_repeated(runs) and _released(runs))


def _released(runs: list[ExaminedRun]) -> list[str]:
    return decided_as(runs, WITH_FIGURES)


def _repeated(runs: list[ExaminedRun]) -> list[str]:
    return decided_as(runs, (RunDecision.Choice.REPEAT,))


def move_sample(
    each: ExaminedRun, approval: Approval, earlier: Approval | None, *, by: Person, at: datetime
) -> None:
    """The sample of a signed run is approved, waits for a new portion, or stays where it has gone meanwhile."""
    if not each.run.is_reported or each.result is None:
        return
    sample, batch = each.run.sample, approval.batch
    if earlier is not None and sample.state != SampleState.UNDER_REVIEW:
        return  # analysed again since the first signature
    if not stands_here(each.run):
        return  # a new portion was opened when its run was made void
    if decision_of(each.result) == RunDecision.Choice.REPEAT:
        asked, decided = new_portion_asked_for(each.result), newest_decision(each.result)
        if sample.state == SampleState.PREPARED:
            return  # it waits for its new portion since its run was made void
        why = " ".join(said for said in (asked and asked.reason, decided and decided.note) if said)
        sample.transition(
            SampleState.PREPARED, by=by, at=at, reason=f"repeat after {batch}: {why} {RULE_BEFORE}"
        )
        return
    if sample.state == SampleState.PREPARED:
        bring_back(each.run, reason=f"reported from {batch}", under_review=True, by=by, at=at)
        sample.refresh_from_db()
    sample.transition(SampleState.APPROVED, by=by, at=at, reason=str(batch))
    if _was_reported(sample) and earlier is not None and _same_lines(each.run, approval, earlier):
        sample.transition(
            SampleState.REPORTED, by=by, at=at, reason=f"{batch}: signed anew as it was reported"
        )


def _was_reported(sample: Sample) -> bool:
    """Whether the sample stood on a certificate when its batch was re-opened."""
    last = sample.moves.filter(to_state=SampleState.UNDER_REVIEW).order_by("pk").last()
    return last is not None and last.from_state == SampleState.REPORTED


def _same_lines(run: Run, *approvals: Approval) -> bool:
    about = [
        [line for line in each.covered.split("\n") if line.startswith(f"{run.title}: ")] for each in approvals
    ]
    return about[0] == about[1]


def signed_results(batch: Batch) -> dict[int, Result]:
    """
    The results of an approved batch by run, as they were signed.

    Refused when what stands there is not what the signature covers.
    """
    results = standing_results(batch)
    if batch.state == BatchState.REOPENED:
        raise NotPossible(
            f"{batch} was re-opened as nonconforming work; nothing is issued on it until it is signed anew."
        )
    if batch.state != BatchState.APPROVED or len(results) != batch.sample_runs.count():
        raise NotPossible(f"{batch} has no approved results.")
    differs = what_differs(batch)
    if differs:
        raise NotPossible(
            f"The results of {batch} are not those {batch.approved_by} signed. Nothing is issued; tell the QA officer. "
            f"{differs[0][0].upper()}{differs[0][1:]}."
        )
    return {result.run_id: result for result in results}


_DONE = {
    BatchState.APPROVED: "signed",
    BatchState.REJECTED: "rejected",
    BatchState.RETURNED: "returned to the bench",
    BatchState.ABORTED: "gave up",
}


def require_under_review(batch: Batch, *, nothing: str = "Nothing was changed.") -> None:
    """Refuse when the batch is not under review, with who ended that, when and why."""
    if batch.state in UNDER_REVIEW:
        return
    last = batch.moves.select_related("by").order_by("pk").last()
    if last is None or last.from_state not in UNDER_REVIEW:
        raise WrongState(f"{batch} is “{batch.state}”, not submitted for review.")
    why = f": {last.reason}" if last.reason else ""
    end = "" if why.endswith((".", "!", "?")) else "."
    raise WrongState(
        f"{last.by} {_DONE[BatchState(last.to_state)]} this batch, {moment_in_words(last.at)}{why}{end} {nothing}"
    )
