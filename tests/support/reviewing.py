"""A reviewer who looks at everything: quality control first, then every cause. All words invented."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from batches.causes.kept import AnsweredCause, causes_in_force
from batches.causes.models import CauseAnswer
from batches.causes.rules import answer_cause, cannot_stand, evidence_that_speaks_to
from batches.models import Batch
from batches.repeating.decided import decision_of
from batches.review import rules as review_rules
from batches.review.examination import examine
from batches.review.models import RunDecision
from particles.distribution.causes.cause import Needs

BECAME = "Sheet and photograph were compared again, nothing is to be put right."
WORDS = "Looked at sheet, stem and tray again."


def causes_of(batch: Batch) -> list[AnsweredCause]:
    """The causes in force in a batch."""
    runs = examine(batch)
    return list(causes_in_force(batch, runs, at=timezone.now()).causes)


def look_at_quality(batch: Batch, by: Any) -> None:
    review_rules.look_at_quality(batch, note=WORDS, by=by, at=timezone.now())


def settle(
    batch: Batch,
    by: Any,
    *,
    note: str = WORDS,
    printed: bool = True,
    pairs: bool = True,
    seen: str | None = None,
) -> None:
    """
    Quality control looked at, every cause and pair answered.

    Where a decision is asked for: the figures stand on the bench sheet, or, where a stop forbids that, the
    samples are reported without figures, or repeated when they ask for that by themselves.
    """
    look_at_quality(batch, by)
    for each in causes_of(batch):
        if each.is_open:
            answer(batch, each, by, note=note, printed=printed, seen=seen)
    for pair in review_rules.pairs_of(examine(batch)) if pairs else ():
        if pair.severity and pair.review is None:
            review_rules.review_pair(pair.duplicate, note=note, cause_found=False, by=by, at=timezone.now())


def answer(
    batch: Batch,
    each: AnsweredCause,
    by: Any,
    *,
    note: str = WORDS,
    printed: bool = True,
    seen: str | None = None,
) -> CauseAnswer:
    """Answer one cause with the least that settles it."""
    labels: list[str] = []
    choice, evidence = CauseAnswer.Choice.NOTED, ""
    if each.cause.needs is Needs.DECISION:
        runs = {each.run.title: each for each in examine(batch)}
        labels = cannot_stand(each.cause, runs)
        choice = CauseAnswer.Choice.WITHOUT_FIGURES if labels else CauseAnswer.Choice.STAND
        if any(decision_of(runs[label].result) == RunDecision.Choice.REPEAT for label in labels):  # type: ignore[arg-type]
            choice = CauseAnswer.Choice.REPEAT
        speaks, usual = evidence_that_speaks_to(each.cause), CauseAnswer.Evidence.COMPARED
        evidence = "" if labels else usual if usual in speaks else speaks[0]
    return answer_cause(
        batch, each.cause.key, choice=choice, note=note, evidence=evidence, labels=labels,
        printed=printed, seen=seen, by=by, at=timezone.now(),
    )  # fmt: skip
