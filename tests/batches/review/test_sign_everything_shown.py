"""The signature covers everything shown and is compared again whenever the page is shown or a certificate issued."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection, transaction
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.exchanging import rules as putting_right
from batches.models import Approval, Batch, FlagReview
from batches.review import rules as approval
from batches.review.signature import SHOWN, digest_of_results, standing_results, what_differs
from batches.review.signing import signed_results
from particles.records.refusals import NotPossible
from tests.conftest import SECRET
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)


def note_all(batch: Batch, by: Any, words: str = "Looked at sheet and stem again.") -> None:
    settle(batch, by, note=words)


def sign(batch: Batch, by: Any, **also: Any) -> Approval:
    return approval.approve(batch, by=by, at=timezone.now(), secret=SECRET, **also)


@pytest.fixture
def signed(stopped_batch: Batch, qa_officer: Any) -> Batch:
    """Its one run has a stop and leaves the laboratory without figures."""
    note_all(stopped_batch, qa_officer)
    result = result_in_force(stopped_batch.sample_runs.get())
    assert result is not None
    approval.decide(
        result,
        "without figures",
        note="It rose at 60 s, as no suspension does.",
        by=qa_officer,
        at=timezone.now(),
    )
    sign(stopped_batch, qa_officer, shown=["Blank: passed.", "Reference soil: none planned."])
    return Batch.objects.get(pk=stopped_batch.pk)


def behind_the_triggers(statement: str, values: list[Any]) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute(statement, values)
        assert cursor.rowcount > 0


def test_every_kind_of_line_is_covered(signed: Batch) -> None:
    lines = Approval.objects.get().covered.split("\n")
    about = " | ".join(lines)
    for part in ("batch B", "limits: between runs", "figures ", "stop rising_reading", "Looked at sheet",
                 "It rose at 60 s, as no suspension does.", "meaning: I have reviewed", "shown: Blank: passed.",
                 "shown: Reference soil"):  # fmt: skip
        assert part in about, part


def test_what_was_signed_agrees_and_the_page_says_so_with_its_meaning(
    signed: Batch, qa_officer: Any, as_person: Any
) -> None:
    assert what_differs(signed) == []
    shown = as_person(qa_officer).get(f"/review/{signed.number}/").content.decode()
    assert "everything it covers is as it was signed" in shown
    assert "I have reviewed the quality control, the causes, the figures and the changes" in shown
    assert set(signed_results(signed)) == {signed.sample_runs.get().pk}


TAMPERED = [
    (
        "UPDATE batches_flagreview SET note = 'Fine.' WHERE flag_id IN (SELECT id FROM batches_flag)",
        "signed, and not so",
    ),
    ("DELETE FROM batches_flagreview", "signed, and not so"),
    ("UPDATE batches_flagreview SET by_id = by_id + 1", "signed, and not so"),
    ("UPDATE batches_flag SET sentence = 'All is well.'", "signed, and not so"),
    ("UPDATE batches_rundecision SET note = 'Nothing of that was ever seen there.'", "signed, and not so"),
    (
        "UPDATE batches_result SET figures = jsonb_set(figures, '{oven_dry_mass_g}', '41')",
        "signed, and not so",
    ),
    ("UPDATE batches_reading SET reading = reading + 1 WHERE slot_s = 5400", "what is recorded is not what"),
    ("UPDATE batches_batch SET between_run_sd_pct = 8.1, between_run_pairs = 13", "signed, and not so"),
    ("UPDATE batches_approval SET covered = replace(covered, 'stop', 'note')", "not those of its digest"),
    ("UPDATE batches_approval SET at = at - interval '1 day'", "names another signature"),
]


@pytest.mark.parametrize(("statement", "sentence"), TAMPERED)
def test_whatever_is_altered_behind_the_triggers_is_told_and_nothing_is_issued(
    signed: Batch, qa_officer: Any, as_person: Any, statement: str, sentence: str
) -> None:
    """Bench fault 101: a change after approval shows as another digest."""
    behind_the_triggers(statement, [])
    batch = Batch.objects.get(pk=signed.pk)
    assert sentence in " ".join(what_differs(batch))
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert "What stands here is not what was signed" in shown
    with pytest.raises(NotPossible, match=r"are not those .* signed\. Nothing is issued"):
        signed_results(batch)


def test_another_verdict_than_the_one_signed_is_told(signed: Batch) -> None:
    lines = Approval.objects.get().covered.split("\n")
    shown = [line.removeprefix(SHOWN) for line in lines if line.startswith(SHOWN)]
    assert "Blank: passed." in shown
    assert what_differs(signed, shown=shown) == []
    assert "Blank: failed." in " ".join(what_differs(signed, shown=["Blank: failed."]))


def test_a_signature_from_before_they_were_kept_stays_valid_under_its_own_rule(
    submitted_batch: Batch, qa_officer: Any
) -> None:
    note_all(submitted_batch, qa_officer)
    sign(submitted_batch, qa_officer)
    digest = digest_of_results(standing_results(submitted_batch))
    behind_the_triggers("DELETE FROM batches_approval", [])
    behind_the_triggers("UPDATE batches_batch SET approved_digest = %s", [digest])
    batch = Batch.objects.get(pk=submitted_batch.pk)
    assert what_differs(batch) == []
    assert signed_results(batch)
    behind_the_triggers("UPDATE batches_batch SET approved_digest = 'x'", [])
    batch.refresh_from_db()
    assert what_differs(batch) == ["results or choices are not those that were signed"]


def test_exchanges_and_readings_left_out_are_under_the_signature(
    submitted_batch: Batch, qa_officer: Any, second_officer: Any, work_off: Any
) -> None:
    run = submitted_batch.sample_runs.get()
    [out] = putting_right.leave_out(run, [60], reason="Foam at the stem.", by=qa_officer, at=timezone.now())
    putting_right.count_again(out, reason="No, at the next one.", by=qa_officer, at=timezone.now())
    work_off()
    note_all(submitted_batch, second_officer)
    sign(submitted_batch, second_officer)
    covered = Approval.objects.get().covered
    assert "left out 60 s of" in covered
    assert "Foam at the stem." in covered
    assert "No, at the next one." in covered
    behind_the_triggers("UPDATE batches_leftoutlifted SET reason = 'Never.'", [])
    assert "left out 60 s" in " ".join(what_differs(Batch.objects.get(pk=submitted_batch.pk)))


def test_a_double_click_signs_once(submitted_batch: Batch, qa_officer: Any) -> None:
    note_all(submitted_batch, qa_officer)
    assert sign(submitted_batch, qa_officer) == sign(submitted_batch, qa_officer)
    assert submitted_batch.moves.filter(to_state="approved").count() == 1
    assert FlagReview.objects.count() == FlagReview.objects.values("flag").distinct().count()
