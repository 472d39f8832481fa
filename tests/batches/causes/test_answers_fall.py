"""An answer to a cause holds while the cause is what was answered, and what it decided is not taken back."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.causes.kept import AnsweredCause
from batches.causes.rules import answer_cause
from batches.computing.models import result_in_force
from batches.models import Batch, CauseAnswer
from batches.review import rules as approval
from batches.review_page.waiting import waiting_batches
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Effect, Needs, Remedy
from particles.distribution.triple import SandSiltClay
from particles.records.refusals import NotPossible
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import WORDS, causes_of, look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)
ONE, OTHER = "26-00001", "26-00002"
STANDS = {"choice": "figures stand", "evidence": "weighed again"}
WITHOUT = {"choice": "without figures"}
TAKEN_BACK = "The sheet was compared, the two bags were never exchanged."


def mass_cause(weighed: str = "57.50", clay: float = 28.0, named: str = "loam") -> Cause:
    """A portion of another mass than was asked for, as the arithmetic would find it."""
    effect = Effect(ONE, SandSiltClay(40.0, 40.0, 20.0), SandSiltClay(40.0, 60.0 - clay, clay), "loam", named)
    return Cause(
        kind="portion_not_as_asked", severity=Severity.WARN, sentence=f"{weighed} g were weighed, 40 g asked for.",
        next_step="Weigh it again.", labels=(ONE,), remedy=Remedy.MASS, effects=(effect,), needs=Needs.DECISION,
    )  # fmt: skip


EXCHANGE = Cause(
    kind="runs_exchanged", severity=Severity.WARN, sentence="Two runs may be exchanged.", next_step="Compare.",
    labels=(ONE, OTHER), remedy=Remedy.EXCHANGE, needs=Needs.DECISION,
)  # fmt: skip


def only(batch: Batch) -> AnsweredCause:
    return causes_of(batch)[0]


def answer(batch: Batch, by: Any, note: str = WORDS, **said: Any) -> CauseAnswer:
    return answer_cause(batch, only(batch).cause.key, note=note, by=by, at=timezone.now(), **said)


@pytest.mark.parametrize(
    ("now", "falls"),
    [
        (mass_cause("65.00"), True),
        (mass_cause(clay=34.0), True),
        (mass_cause(named="clay loam"), True),
        (mass_cause(clay=28.4), False),
    ],
    ids=["another number", "another effect", "another class", "within rounding"],
)
def test_an_answer_falls_when_what_it_answered_changed(
    plant: Any, qa_officer: Any, as_person: Any, now: Cause, falls: bool
) -> None:
    batch = plant(mass_cause())
    said = answer(batch, qa_officer, **STANDS)
    assert not only(batch).is_open
    assert now.key == only(batch).cause.key, "it is the same thing in the same run"
    batch = plant(now)
    assert only(batch).is_open is falls
    assert only(batch).fallen == (said if falls else None)
    [row] = waiting_batches(at=timezone.now())
    assert row.decisions == falls, "the list counts it as the page does"
    page = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert ("Holds no more, what it answered has changed since." in page) is falls
    assert "57.50 g were weighed" in page
    assert WORDS in page, "the next person reads what was answered"
    if falls:
        with pytest.raises(NotPossible, match="waits for a decision"):
            approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
        assert answer(batch, qa_officer, **STANDS) != said


def test_an_answer_falls_when_the_figures_it_let_stand_are_others(
    plant: Any, qa_officer: Any, second_officer: Any, work_off: Any
) -> None:
    """A mass put right from 40 g to 46 g moves every figure, whatever the cause still says."""
    from decimal import Decimal

    from batches.exchanging import rules as putting_right

    batch = plant(replace(mass_cause(), effects=()))
    answer(batch, qa_officer, **STANDS)
    run = next(each for each in batch.sample_runs if each.title == ONE)
    right = {"mass_g": Decimal("46.00"), "reason": "The balance's print says 46.00 g."}
    putting_right.put_mass_right(run.portion, "portion", **right, by=second_officer, at=timezone.now())
    work_off()
    assert only(batch).is_open
    assert only(batch).why_fallen == "what it answered has changed since"


def test_an_answer_to_the_same_thing_under_another_remedy_is_shown_and_asked_again(
    plant: Any, qa_officer: Any
) -> None:
    said = answer(plant(mass_cause()), qa_officer, **STANDS)
    batch = plant(replace(mass_cause(), remedy=Remedy.AGAIN))
    assert (only(batch).is_open, only(batch).fallen) == (True, said)


def test_a_decision_covers_every_sample_that_the_cause_touches(plant: Any, qa_officer: Any) -> None:
    """Of two exchanged runs the half that is not marked would be reported wrong."""
    batch = plant(EXCHANGE)
    with pytest.raises(NotPossible, match=f"touches {OTHER}, and would be reported as it stands"):
        answer(batch, qa_officer, labels=[ONE], **WITHOUT)
    with pytest.raises(NotPossible, match="in a sentence why"):
        answer(batch, qa_officer, labels=[ONE], rest_evidence="felt again", rest_note="ok", **WITHOUT)
    assert only(batch).is_open
    assert answer(batch, qa_officer, labels=[ONE, OTHER], **WITHOUT).labels == [ONE, OTHER]
    assert not only(batch).is_open


def test_a_sample_left_out_stands_on_evidence_of_its_own_or_is_settled_already(
    plant: Any, qa_officer: Any
) -> None:
    batch = plant(EXCHANGE)
    rest = {"rest_evidence": "felt again", "rest_note": "The other bag was felt again and agrees."}
    said = answer(batch, qa_officer, labels=[ONE], **WITHOUT, **rest)
    assert (said.labels, said.rest_note) == ([ONE], rest["rest_note"])
    assert rest["rest_note"] in only(batch).in_words, "the signature covers it"
    batch = plant(replace(EXCHANGE, sentence="Two runs are exchanged."))
    with pytest.raises(NotPossible, match=f"touches {OTHER}"):
        answer(batch, qa_officer, labels=[ONE], **WITHOUT)
    other = next(run for run in batch.sample_runs if run.title == OTHER)
    approval.decide(
        result_in_force(other), "repeat", note="Poured into the wrong one.", by=qa_officer, at=timezone.now()
    )
    assert answer(batch, qa_officer, labels=[ONE], **WITHOUT).labels == [ONE, OTHER]


def test_a_blank_that_moved_is_every_runs_and_no_part_goes_out_for_a_reason(
    plant: Any, qa_officer: Any
) -> None:
    """A blank of another lot moves all figures: one sample without figures and words release none of the others."""
    moved = {label: Effect(label, SandSiltClay(40.0, 40.0, 20.0), SandSiltClay(40.0, 29.0, 31.0), "loam", "clay loam")
             for label in (ONE, OTHER)}  # fmt: skip
    blank = replace(
        EXCHANGE,
        kind="blank_level",
        remedy=Remedy.BLANK,
        effects=tuple(moved.values()),
        sentence="The blank is off.",
    )
    batch = plant(blank)
    rest = {"rest_evidence": "felt again", "rest_note": "The other bag was felt again and agrees."}
    with pytest.raises(NotPossible, match=f"The blank serves all runs, and it moves {OTHER} as well"):
        answer(batch, qa_officer, labels=[ONE], **WITHOUT, **rest)
    spared = replace(moved[OTHER], after=SandSiltClay(40.0, 39.5, 20.5), class_after="loam")
    batch = plant(replace(blank, effects=(moved[ONE], spared)))
    answer(batch, qa_officer, labels=[ONE], **WITHOUT)
    assert not only(batch).is_open, "whose figures it hardly moves is not touched"
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)


def test_the_database_lets_no_sample_stand_on_evidence_without_words(plant: Any, qa_officer: Any) -> None:
    batch = plant(EXCHANGE)
    told = {"batch": batch, "key": "0", "kind": "x", "severity": "warn", "needs": "decision", "sentence": "x",
            "by": qa_officer, "at": timezone.now(), "note": WORDS, **WITHOUT}  # fmt: skip
    with pytest.raises(DatabaseError), transaction.atomic():
        CauseAnswer.objects.create(**told, rest_evidence="felt again")


def test_taking_back_a_decision_takes_a_sentence_and_asks_the_cause_again(
    plant: Any, qa_officer: Any, as_person: Any
) -> None:
    batch = plant(EXCHANGE)
    answer(batch, qa_officer, labels=[ONE, OTHER], **WITHOUT)
    result = result_in_force(next(run for run in batch.sample_runs if run.title == OTHER))
    said: dict[str, Any] = {"by": qa_officer, "at": timezone.now()}
    for words in ("", "ok"):
        with pytest.raises(NotPossible, match="Say in a sentence why that is taken back"):
            approval.decide(result, "report", note=words, **said)
    assert not only(batch).is_open
    page = as_person(qa_officer).get(f"/review/{batch.number}/")
    assert [row.can_be_kept for row in page.context["strip"]] == [False, False]
    approval.decide(result, "report", note=TAKEN_BACK, **said)
    assert only(batch).why_fallen == f"what was decided of {OTHER} was taken back"
    [row] = waiting_batches(at=timezone.now())
    assert row.decisions == 1
    with pytest.raises(NotPossible, match="waits for a decision: Two runs may be exchanged"):
        approval.approve(batch, secret=SECRET, **said)


def test_a_flocculated_soil_stands_on_nothing_but_another_portion(
    plant: Any, qa_officer: Any, as_person: Any
) -> None:
    """Bench fault 45: a sheet that agrees with the readings says nothing of flocs that were read rightly."""
    flocculated = Cause(
        kind="flocculation_suspected", severity=Severity.WARN, sentence="The clay is gone.", next_step="Look.",
        labels=(ONE,), remedy=Remedy.AGAIN, needs=Needs.DECISION,
    )  # fmt: skip
    batch = plant(flocculated)
    page = as_person(qa_officer).get(f"/review/{batch.number}/")
    [form] = [row.form for row in page.context["causes"] if row.form]
    assert [value for value, _ in form.fields["evidence"].choices] == ["", "second portion"]
    assert "optional" not in str(form["evidence"].as_field_group())
    for evidence in ("compared", "felt again", "weighed again", "retained soil"):
        with pytest.raises(NotPossible, match="only a second portion that was analysed speaks to that"):
            answer(batch, qa_officer, choice="figures stand", evidence=evidence)
    with pytest.raises(NotPossible, match=f"No second portion of {ONE} is on record"):
        answer(batch, qa_officer, choice="figures stand", evidence="second portion")
    assert answer(batch, qa_officer, labels=[ONE], **WITHOUT).labels == [ONE]


def test_another_blank_stands_on_nothing_but_the_control_run_again(
    plant: Any, qa_officer: Any, as_person: Any
) -> None:
    """Bench fault 29: the blank was read rightly, and another lot stood in it all the same."""
    another = Cause(
        kind="blank_unusual", severity=Severity.WARN, sentence="The blank lies 3 g/L off its lot.", next_step="Look.",
        labels=(ONE, OTHER), remedy=Remedy.BLANK, needs=Needs.DECISION,
    )  # fmt: skip
    batch = plant(another)
    page = as_person(qa_officer).get(f"/review/{batch.number}/")
    [form] = [row.form for row in page.context["causes"] if row.form]
    assert [value for value, _ in form.fields["evidence"].choices] == ["", "control again"]
    for evidence in ("compared", "felt again", "weighed again", "retained soil"):
        with pytest.raises(NotPossible, match="only a control that was run again speaks to that"):
            answer(batch, qa_officer, choice="figures stand", evidence=evidence)
    assert answer(batch, qa_officer, choice="figures stand", evidence="control again").pk


def test_a_duplicate_with_sound_figures_is_a_second_portion(
    monkeypatch: pytest.MonkeyPatch, the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any,
    work_off: Any,
) -> None:  # fmt: skip
    flocculated = Cause(
        kind="flocculation_suspected", severity=Severity.WARN, sentence="The clay is gone.", next_step="Look.",
        labels=(ONE,), remedy=Remedy.AGAIN, needs=Needs.DECISION,
    )  # fmt: skip
    monkeypatch.setattr("batches.causes.kept.find_causes", lambda *_: (flocculated,))
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    work_off()
    approval.submit(batch, by=technician, at=timezone.now())
    look_at_quality(batch, qa_officer)
    assert answer(batch, qa_officer, choice="figures stand", evidence="second portion").pk
