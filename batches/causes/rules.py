"""What a reviewer may answer to a cause, and what the answer does to its runs and findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from batches.causes.kept import AnsweredCause, causes_in_force
from batches.causes.models import CauseAnswer
from batches.computing.models import Flag, result_in_force
from batches.planning.freshness import require_current
from batches.planning.models import Batch, Run
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT
from batches.repeating.decided import HELD_BACK, decided_as
from batches.review import rules as review_rules
from batches.review.examination import ExaminedRun, examine
from batches.review.models import FlagReview
from batches.review.signing import require_under_review
from particles.distribution.answer import Severity
from particles.distribution.causes.blanks import is_another_blank, is_of_all_runs
from particles.distribution.causes.cause import Cause, Needs, Remedy
from particles.distribution.causes.runs import FLOCCULATED, is_flocculation
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible
from particles.records.sentence import HOW_TO_SAY, is_a_sentence

Choice, Evidence = CauseAnswer.Choice, CauseAnswer.Evidence
NOT_KEPT = "The answer was not kept."
DECIDED = (Choice.REPEAT, Choice.WITHOUT_FIGURES)


def is_pair_beyond_action(cause: Cause) -> bool:
    """Whether it is of two portions of one sample so far apart that the figures of neither leave the laboratory."""
    return cause.kind == DUPLICATE_OUTSIDE_LIMIT and cause.severity is Severity.STOP


def cannot_stand(cause: Cause, by_label: Mapping[str, ExaminedRun]) -> list[str]:
    """Reported runs of a cause whose figures cannot stand against it, unless a second portion speaks for them."""
    always = is_flocculation(cause) or is_pair_beyond_action(cause) or cause.doubts_the_records
    runs = [by_label[label] for label in cause.labels if label in by_label]
    return [each.run.title for each in runs if each.run.is_reported and (always or _has_stop(each))]


def evidence_that_speaks_to(cause: Cause) -> tuple[CauseAnswer.Evidence, ...]:
    """
    Evidence on which figures may stand against a cause.

    Where what was read was right, or the records themselves are what is doubted, no sheet contradicts it.
    """
    if is_flocculation(cause) or cause.doubts_the_records:
        return (Evidence.SECOND_PORTION,)
    if is_another_blank(cause):
        return (Evidence.CONTROL,)
    return tuple(Evidence)


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
    rest_evidence: str = "",
    rest_note: str = "",
    seen: str | None = None,
) -> CauseAnswer:
    """
    Keep a reviewer's answer to a cause; its findings are reviewed by it, its marked samples decided.

    Parameters
    ----------
    labels : runs that are repeated or reported without figures; empty for any other choice.
    rest_evidence, rest_note : what the figures of runs stand on that the cause touches and `labels` leaves out.
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
    labels = labels if choice in DECIDED else ()
    _require_decided(found.cause, choice, labels, by_label)
    rest = _left_out(found.cause, labels, by_label) if choice in DECIDED else []
    _require_rest_stands(found.cause, rest, rest_evidence, rest_note.strip(), by_label)
    for label in labels:
        result = by_label[label].result
        assert result is not None, "refused before"
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
        told=found.told,
        labels=_held_by(found.cause, labels, rest, by_label) if choice in DECIDED else [],
        rest_evidence=rest_evidence if rest else "",
        rest_note=rest_note.strip() if rest else "",
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
        raise NotPossible(f"This needs a sentence: what was looked at, and what follows. {HOW_TO_SAY}")
    if choice == Choice.STAND and not evidence:
        raise NotPossible(
            "Say on which evidence beyond this batch the figures stand; words alone do not settle it."
        )


def _require_on_record(cause: Cause, evidence: str, by_label: dict[str, ExaminedRun]) -> None:
    """Refuse evidence that would be on record and is not, and for a flocculated soil any but another portion of it."""
    every = [by_label[label].run for label in cause.labels if label in by_label]
    touched = [run for run in every if run.is_reported] or every
    titles = ", ".join(run.title for run in touched)
    if evidence == Evidence.SECOND_READING and not any(run.second_readings.exists() for run in touched):
        raise NotPossible(f"No second reading of {titles} is on record. Name what was really compared.")
    if evidence == Evidence.SECOND_PORTION and not all(_has_sound_portion(run) for run in touched):
        raise NotPossible(
            f"No second portion of {titles} is on record whose figures can be certified. Analyse again, or report "
            "without figures."
        )
    reported = any(run.is_reported for run in touched)
    if not evidence or not reported or evidence in evidence_that_speaks_to(cause):
        return
    if is_another_blank(cause):
        raise NotPossible(
            "The blank was read rightly and holds something else than its dispersant all the same: only a control that "
            "was run again speaks to that. Put the records right, analyse again, or report without figures."
        )
    if cause.doubts_the_records:
        raise NotPossible(
            f"The records of {titles} are what is doubted, so comparing them settles nothing: only a second portion "
            "that was analysed speaks to that. Exchange them if the sheet shows it, analyse again, or report without "
            "figures."
        )
    raise NotPossible(
        f"The readings of {titles} were right and the soil flocculated all the same: only a second portion that "
        "was analysed speaks to that. Analyse again, or report without figures."
    )


def _has_sound_portion(run: Run) -> bool:
    """Whether another portion of the sample of a run has figures that can be certified and did not flocculate."""
    others = Run.objects.filter(portion__sample=run.sample).exclude(pk=run.pk)
    results = (result_in_force(other) for other in others)
    return any(
        result is not None and result.certifiable and not result.flags.filter(code__in=FLOCCULATED).exists()
        for result in results
    )


def _require_decided(
    cause: Cause, choice: str, labels: Sequence[str], by_label: dict[str, ExaminedRun]
) -> None:
    """Refuse runs that the cause does not touch or that cannot be so decided."""
    strange = [label for label in labels if label not in cause.labels or label not in by_label]
    if strange:
        raise NotPossible(f"Not touched by this cause: {', '.join(strange)}.")
    if choice in DECIDED and not labels:
        raise NotPossible("Mark the samples this is decided for.")
    waiting = [label for label in labels if by_label[label].result is None]
    if waiting:
        raise NotPossible(
            f"{', '.join(waiting)}: its figures wait for the worker. Decide when they are computed."
        )
    if choice == Choice.STAND and is_pair_beyond_action(cause) and cannot_stand(cause, by_label):
        raise NotPossible(
            f"{', '.join(cause.labels)}: a pair beyond its action limit; its figures cannot stand. Analyse again, or "
            "report without figures."
        )
    if choice == Choice.STAND:
        stopped = [label for label in cause.labels if label in by_label and _has_stop(by_label[label])]
        if stopped:
            raise NotPossible(
                f"{', '.join(stopped)} has a stop: its figures cannot stand. Analyse again, or report without figures."
            )


def _left_out(cause: Cause, labels: Sequence[str], by_label: dict[str, ExaminedRun]) -> list[str]:
    """Samples that the cause touches, that are not marked, and whose figures leave the laboratory as it stands."""
    settled = {*labels, *decided_as(by_label.values(), HELD_BACK)}
    return [label for label in _touched_and_reported(cause, by_label) if label not in settled]


def _touched_and_reported(cause: Cause, by_label: dict[str, ExaminedRun]) -> list[str]:
    return [label for label in cause.touched if label in by_label and by_label[label].run.is_reported]


def _held_by(
    cause: Cause, labels: Sequence[str], rest: Sequence[str], by_label: dict[str, ExaminedRun]
) -> list[str]:
    """Samples whose figures must not leave the laboratory for the answer to hold."""
    touched = _touched_and_reported(cause, by_label)
    return [*labels, *(label for label in touched if label not in {*labels, *rest})]


def _require_rest_stands(
    cause: Cause, rest: Sequence[str], evidence: str, words: str, by_label: dict[str, ExaminedRun]
) -> None:
    """Refuse to leave samples out that the same cause touches, unless their figures stand on evidence of their own."""
    if not rest:
        return
    titles = ", ".join(rest)
    if is_of_all_runs(cause):
        raise NotPossible(
            f"The blank serves all runs, and it moves {titles} as well: mark them too, or put the blank right, "
            "or return or reject the batch."
        )
    if not evidence or not is_a_sentence(words):
        raise NotPossible(
            f"The same cause touches {titles}, and would be reported as it stands. Mark it too, or say on which "
            "evidence the figures of samples not marked stand, and in a sentence why."
        )
    _require_on_record(replace(cause, labels=tuple(rest)), evidence, by_label)


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
