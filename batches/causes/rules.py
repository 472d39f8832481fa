"""What a reviewer may answer to a cause, and what the answer does to its runs and findings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from batches.causes.kept import AnsweredCause, causes_in_force
from batches.causes.models import CauseAnswer
from batches.computing.models import Flag
from batches.planning.freshness import require_current
from batches.planning.models import Batch
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT
from batches.review import rules as review_rules
from batches.review.examination import ExaminedRun, examine
from batches.review.models import FlagReview
from batches.review.signing import require_under_review
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Needs, Remedy
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible
from particles.records.sentence import is_a_sentence

Choice = CauseAnswer.Choice
NOT_KEPT = "The answer was not kept."
DECIDED = (Choice.REPEAT, Choice.WITHOUT_FIGURES)


@transaction.atomic
def answer_cause(
    batch: Batch,
    key: str,
    *,
    choice: str,
    note: str,
    by: Person,
    at: datetime,
    evidence: str = "",
    labels: Sequence[str] = (),
    printed: bool = True,
    seen: str | None = None,
) -> CauseAnswer:
    """
    Keep a reviewer's answer to a cause; its findings are reviewed by it, its marked samples decided.

    Parameters
    ----------
    labels : runs that are repeated or reported without figures; empty for any other choice.
    seen : version of the page, as in every act of review.
    """
    batch = batch.lock()
    require_under_review(batch, nothing=NOT_KEPT)
    batch.require_other_person(by)
    runs = examine(batch)
    found = _cause(causes_in_force(batch, runs, at=at).causes, key)
    if (same := _said_before(found, choice, note, by)) is not None:
        return same  # a second click
    _require_open(found)
    require_current(batch, seen, by=by, nothing=NOT_KEPT)
    _require_enough(found.cause, choice, note, evidence)
    by_label = {each.run.title: each for each in runs}
    _require_on_record(found.cause, evidence, by_label)
    _require_decided(found.cause, choice, labels, by_label)
    for label in labels if choice in DECIDED else ():
        result = by_label[label].result
        assert result is not None, "a batch under review has results"
        review_rules.decide(result, choice, note=note, by=by, at=at)
    _review_findings(found.cause, by_label, note, printed, by, at)
    _review_pairs(found.cause, runs, choice, note, by, at)
    return CauseAnswer.objects.create(
        batch=batch,
        key=key,
        kind=found.cause.kind,
        severity=found.cause.severity.value,
        needs=found.cause.needs.value,
        sentence=found.cause.sentence,
        choice=choice,
        evidence=evidence,
        note=note,
        printed=printed,
        **done(by, at),
    )


def _cause(causes: Sequence[AnsweredCause], key: str) -> AnsweredCause:
    found = next((each for each in causes if each.cause.key == key), None)
    if found is None:
        raise NotPossible(
            "This cause is not found any more: what is recorded has changed. Read the page again."
        )
    return found


def _said_before(found: AnsweredCause, choice: str, note: str, by: Person) -> CauseAnswer | None:
    """The answer in force, when the same person has given it in the same words."""
    answer = found.answer
    if answer is None or (answer.by_id, answer.choice, answer.note) != (by.pk, choice, note):
        return None
    return answer


def _require_open(found: AnsweredCause) -> None:
    if found.cause.needs is Needs.LOOK:
        raise NotPossible("This is only looked at; nothing is answered to it.")
    answer = found.answer
    if answer is not None:
        raise AlreadyThere(
            f"{answer.by} answered this cause on {timezone.localtime(answer.at):%-d %b, %H:%M}: "
            f"{answer.get_choice_display()}. “{answer.note}” Nothing was kept now."
        )


def _require_enough(cause: Cause, choice: str, note: str, evidence: str) -> None:
    """Refuse an answer that says less than the cause asks for."""
    decides = cause.needs is Needs.DECISION
    if decides and choice == Choice.NOTED:
        raise NotPossible(
            "A note does not settle this: analyse again, report without figures, or say on what evidence the "
            "figures stand."
        )
    if not note.strip(" .,;:!?"):
        raise NotPossible("Write what was looked at.")
    if (decides or cause.severity is Severity.STOP) and not is_a_sentence(note):
        raise NotPossible("This needs a sentence: what was looked at, and what follows.")
    if choice == Choice.STAND and not evidence:
        raise NotPossible(
            "Say on which evidence beyond this batch the figures stand; words alone do not settle it."
        )


def _require_on_record(cause: Cause, evidence: str, by_label: dict[str, ExaminedRun]) -> None:
    """Refuse a second reading as evidence where none of the runs concerned has one."""
    touched = [by_label[label].run for label in cause.labels if label in by_label]
    if evidence == CauseAnswer.Evidence.SECOND_READING and not any(
        run.second_readings.exists() for run in touched
    ):
        titles = ", ".join(run.title for run in touched)
        raise NotPossible(f"No second reading of {titles} is on record. Name what was really compared.")


def _require_decided(
    cause: Cause, choice: str, labels: Sequence[str], by_label: dict[str, ExaminedRun]
) -> None:
    """Refuse runs that the cause does not touch or that cannot be so decided."""
    strange = [label for label in labels if label not in cause.labels or label not in by_label]
    if strange:
        raise NotPossible(f"Not touched by this cause: {', '.join(strange)}.")
    if choice in DECIDED and not labels:
        raise NotPossible("Mark the samples this is decided for.")
    if choice == Choice.STAND:
        stopped = [label for label in cause.labels if label in by_label and _has_stop(by_label[label])]
        if stopped:
            raise NotPossible(
                f"{', '.join(stopped)} has a stop: its figures cannot stand. Analyse again, or report without figures."
            )


def _has_stop(each: ExaminedRun) -> bool:
    return each.result is not None and not each.result.certifiable and each.run.is_reported


def _review_pairs(
    cause: Cause, runs: list[ExaminedRun], choice: str, note: str, by: Person, at: datetime
) -> None:
    """A pair that lies apart by what the cause says has the answer for its note; decided, a cause was found."""
    speaks = cause.remedy is Remedy.EXCHANGE or DUPLICATE_OUTSIDE_LIMIT in {
        cause.kind,
        *(told.code for told in cause.told_by),
    }
    for pair in review_rules.pairs_of(runs) if speaks else ():
        if pair.severity and pair.review is None and pair.first.title in cause.labels:
            review_rules.review_pair(pair.duplicate, note=note, cause_found=choice in DECIDED, by=by, at=at)


def _review_findings(
    cause: Cause, by_label: dict[str, ExaminedRun], note: str, printed: bool, by: Person, at: datetime
) -> None:
    """The findings that the cause tells count as reviewed with its answer; stops stay printed, a duplicate's never."""
    for each in by_label.values():
        told = {(told.code, told.reading_index) for told in cause.told_by if told.label == each.run.title}
        for flag in each.result.flags.all() if each.result is not None else ():
            if flag.needs_review and (flag.code, flag.reading_index) in told:
                shown = (printed or flag.severity == Flag.Severity.STOP) and each.run.is_reported
                FlagReview.objects.create(flag=flag, note=note, printed=shown, **done(by, at))
