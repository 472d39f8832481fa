"""What a reviewer may answer to a cause, and what the answer does to its findings and samples."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.causes.kept import find_for_pages
from batches.causes.rules import answer_cause
from batches.models import Batch, CauseAnswer, CauseList, FlagReview, RunDecision
from batches.review import rules as approval
from batches.review.examination import examine
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Effect, Needs, Remedy, Told
from particles.distribution.triple import SandSiltClay
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState
from tests.conftest import SECRET
from tests.support.reviewing import WORDS, causes_of, look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)

LABEL = "26-00001"


def cause(needs: Needs, severity: Severity = Severity.WARN, **more: Any) -> Cause:
    """A cause of the batch's one sample, as the arithmetic would find it."""
    found: dict[str, Any] = {
        "kind": "hand_disagrees", "severity": severity, "sentence": "Felt as sand, measured as clay.",
        "next_step": "Feel it again.", "labels": (LABEL,), "needs": needs,
    }  # fmt: skip
    return Cause(**(found | more))


@pytest.fixture
def found(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """These causes, and no others, are found from now on."""

    def plant(*causes: Cause) -> None:
        monkeypatch.setattr("batches.causes.kept.find_causes", lambda *_: causes)

    return plant


@pytest.fixture
def under_review(
    found: Any, measured: Any, technician: Any, qa_officer: Any
) -> Callable[..., tuple[Batch, str]]:
    """The batch of one sample, with these causes found in it and its quality control looked at."""

    def made(*causes: Cause) -> tuple[Batch, str]:
        assert measured.sample_runs.get().title == LABEL
        found(*causes)
        approval.submit(measured, by=technician, at=timezone.now())
        look_at_quality(measured, qa_officer)
        return measured, causes[0].key

    return made


def answer(
    batch: Batch, key: str, by: Any, choice: str = "noted", note: str = WORDS, **more: Any
) -> CauseAnswer:
    return answer_cause(batch, key, choice=choice, note=note, by=by, at=timezone.now(), **more)


def test_what_is_only_looked_at_takes_no_answer(under_review: Any, qa_officer: Any) -> None:
    batch, key = under_review(cause(Needs.LOOK))
    with pytest.raises(NotPossible, match="only looked at"):
        answer(batch, key, qa_officer)
    assert [each.is_open for each in causes_of(batch) if each.cause.key == key] == [False]


def test_one_note_answers_for_all_findings_of_a_cause(under_review: Any, qa_officer: Any) -> None:
    warnings = tuple(
        Told(LABEL, code, Severity.WARN, "Said.", "Look.", index)
        for code, index in (("blank_drift", 2), ("blank_drift", 3))
    )
    batch, key = under_review(cause(Needs.NOTE, told_by=warnings))
    result = batch.sample_runs.get().results.get()
    for told in warnings:
        result.flags.create(
            code=told.code, severity="warn", sentence="Said.", next_step="Look.", reading_index=told.reading_index
        )  # fmt: skip
    answer(batch, key, qa_officer, printed=False)
    kept = FlagReview.objects.filter(flag__code="blank_drift")
    assert [(review.note, review.printed) for review in kept] == [(WORDS, False)] * 2


def test_a_note_does_not_settle_what_asks_for_a_decision(under_review: Any, qa_officer: Any) -> None:
    batch, key = under_review(cause(Needs.DECISION))
    with pytest.raises(NotPossible, match="A note does not settle this"):
        answer(batch, key, qa_officer)
    with pytest.raises(NotPossible, match="waits for a decision: Felt as sand"):
        approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)


@pytest.mark.parametrize(
    "words", ["ok", "ok ok ok ok ok", "aa bb cc dd", "11 22 33 44", "ok fine good yes", ". . . ."]
)
def test_a_decision_takes_a_sentence(under_review: Any, qa_officer: Any, words: str) -> None:
    batch, key = under_review(cause(Needs.DECISION))
    with pytest.raises(NotPossible, match=r"needs a sentence|Write what"):
        answer(batch, key, qa_officer, "figures stand", words, evidence="felt again")
    words = "The texture was felt again."
    assert answer(batch, key, qa_officer, "figures stand", words, evidence="felt again").pk


@pytest.mark.parametrize("severity", [Severity.WARN, Severity.STOP])
def test_figures_stand_on_named_evidence_never_on_words_alone(
    under_review: Any, qa_officer: Any, severity: Severity
) -> None:
    """Bench fault 59: two bags exchanged may be told by nothing but the hand; what the hand says needs evidence."""
    batch, key = under_review(cause(Needs.DECISION, severity))
    with pytest.raises(NotPossible, match="on which evidence beyond this batch"):
        answer(batch, key, qa_officer, "figures stand")
    assert answer(batch, key, qa_officer, "figures stand", evidence="felt again").evidence == "felt again"


def test_a_second_reading_that_is_not_on_record_is_no_evidence(under_review: Any, qa_officer: Any) -> None:
    batch, key = under_review(cause(Needs.DECISION))
    with pytest.raises(NotPossible, match=r"No second reading of .* is on record"):
        answer(batch, key, qa_officer, "figures stand", evidence="second reading")


def test_the_database_holds_that_too(under_review: Any, qa_officer: Any) -> None:
    batch, _ = under_review(cause(Needs.DECISION, Severity.STOP))
    told = {"batch": batch, "key": "0", "kind": "x", "severity": "stop", "needs": "decision", "sentence": "x",
            "by": qa_officer, "at": timezone.now(), "note": WORDS}  # fmt: skip
    for choice, note in (("noted", WORDS), ("figures stand", WORDS), ("repeat", "")):
        with pytest.raises(DatabaseError), transaction.atomic():
            CauseAnswer.objects.create(**(told | {"choice": choice, "note": note}))


@pytest.mark.parametrize("choice", ["repeat", "without figures"])
def test_a_decision_is_that_of_the_marked_samples(under_review: Any, qa_officer: Any, choice: str) -> None:
    batch, key = under_review(cause(Needs.DECISION))
    with pytest.raises(NotPossible, match="Mark the samples"):
        answer(batch, key, qa_officer, choice)
    with pytest.raises(NotPossible, match="Not touched by this cause: 26-00009"):
        answer(batch, key, qa_officer, choice, labels=["26-00009"])
    assert RunDecision.objects.count() == 0
    answer(batch, key, qa_officer, choice, labels=[LABEL])
    assert (RunDecision.objects.get().choice, RunDecision.objects.get().note) == (choice, WORDS)
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)


def test_the_second_officer_hears_who_answered_and_when(
    under_review: Any, qa_officer: Any, manager: Any
) -> None:
    batch, key = under_review(cause(Needs.NOTE))
    manager.roles = ["QA officer"]
    manager.save()
    first = answer(batch, key, qa_officer)
    with pytest.raises(
        AlreadyThere, match=rf"Quinn Example answered this cause on .*“{WORDS}” Nothing was kept"
    ):
        answer(batch, key, manager, note="Seen by me as well.")
    assert answer(batch, key, qa_officer) == first, "a second click is no second answer"
    assert CauseAnswer.objects.count() == 1


def test_a_cause_that_is_gone_takes_no_answer(under_review: Any, qa_officer: Any) -> None:
    batch, _ = under_review(cause(Needs.NOTE))
    with pytest.raises(NotPossible, match="not found any more"):
        answer(batch, "0123456789abcdef", qa_officer)


def test_an_answer_to_a_note_does_not_settle_the_same_cause_grown_severe(
    under_review: Any, found: Any, qa_officer: Any
) -> None:
    batch, key = under_review(cause(Needs.NOTE))
    answer(batch, key, qa_officer)
    assert not any(each.is_open for each in causes_of(batch) if each.cause.key == key)
    found(cause(Needs.DECISION))
    find_for_pages(batch, examine(batch), at=timezone.now())
    assert [each.is_open for each in causes_of(batch) if each.cause.key == key] == [True]


def test_whoever_worked_in_the_batch_answers_nothing(
    under_review: Any, technician: Any, qa_officer: Any
) -> None:
    batch, key = under_review(cause(Needs.NOTE))
    with pytest.raises(NotThisPerson):
        answer(batch, key, technician)
    approval.return_to_bench(batch, by=qa_officer, at=timezone.now(), reason="Look again.")
    with pytest.raises(WrongState, match="Quinn Example returned to the bench this batch"):
        answer(batch, key, qa_officer)


def test_causes_are_found_once_and_kept(under_review: Any, qa_officer: Any, as_person: Any) -> None:
    """Found at the hand-over; pages read them, with every figure and curve as it was found."""
    before, after = SandSiltClay(40.0, 40.0, 20.0), SandSiltClay(60.0, 30.0, 10.0)
    effect = Effect(LABEL, before, after, "loam", "sandy loam", ((50.0, 60.0), (2.0, 20.0)), ((50.0, 40.0),))
    told = cause(Needs.DECISION, effects=(effect,), remedy=Remedy.EXCHANGE, slots=(1, 2), odds=40.0)
    batch, _ = under_review(told)
    for _ in range(2):
        assert as_person(qa_officer).get(f"/review/{batch.number}/").status_code == 200
    assert CauseList.objects.count() == 1
    assert causes_of(batch)[0].cause == told
    assert CauseList.objects.get().asks[told.key] == "decision"


def test_a_flag_that_no_cause_tells_is_a_cause_of_its_own(under_review: Any, qa_officer: Any) -> None:
    batch, key = under_review(cause(Needs.NOTE))
    result = batch.sample_runs.get().results.get()
    result.flags.create(code="invented", severity="stop", sentence="Invented.", next_step="None.")
    find_for_pages(batch, examine(batch), at=timezone.now())
    own = next(each.cause for each in causes_of(batch) if each.cause.kind == "invented")
    assert (own.needs, own.labels, own.key != key) == (Needs.DECISION, (LABEL,), True)
