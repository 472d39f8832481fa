"""Decisions with a qualifier, in part, by rule; and a batch returned with reasons both sides see."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.computing.models import Result, result_in_force
from batches.models import Batch, Run, RunVoid
from batches.repeating.decided import decision_of
from batches.repeating.rules import RULE_BEFORE, attempts_of, salts_to_wash_out, why_another_portion
from batches.review import rules as approval
from batches.review.returning import since_return
from batches.review.signed import signed_samples
from particles.models import Sample
from particles.records.refusals import NotPossible
from tests.batches.review.test_sign_everything_shown import note_all, sign
from tests.support import factories
from tests.support.reviewing import look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)
TOUCHES_NOT = "The spill was in one cylinder; blank and the other cylinder stood apart from it."


def result_of(run: Run) -> Result:
    found = result_in_force(run)
    assert found is not None
    return found


def make_void(run: Run, by: Any, why: str) -> None:
    factories.stored("void", by, run=run.pk, why=why, voided_at=timezone.now().isoformat(), note="")


@pytest.fixture
def two(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Batch:
    """Two loams, computed and not handed over yet."""
    made = factories.measured_batch(the_client, clerk, technician, bench, samples=2)
    work_off()
    return made


@pytest.fixture
def with_a_void(two: Batch, technician: Any, work_off: Any) -> Any:
    """Hands the two over with the first of them void for a cause."""

    def made(why: str) -> Batch:
        first = two.sample_runs.order_by("position")[0]
        make_void(first, technician, why)
        work_off()
        approval.submit(two, by=technician, at=timezone.now())
        return Batch.objects.get(pk=two.pk)

    return made


@pytest.mark.parametrize(
    ("why", "salts"),
    [(RunVoid.Why.FLOCCULATED, True), (RunVoid.Why.SPILL, False), (RunVoid.Why.BROKEN, False)],
)
def test_a_void_run_asks_for_a_new_portion_by_itself(
    with_a_void: Any, qa_officer: Any, technician: Any, as_person: Any, why: str, salts: bool
) -> None:
    """Bench faults 45 and 99: the rule for the result is settled before the new portion is weighed."""
    batch = with_a_void(why)
    first, second = batch.sample_runs.order_by("position")
    assert [decision_of(result_of(run)) for run in (first, second)] == ["repeat", "report"]
    look_at_quality(batch, qa_officer)  # the samples are shown after it
    page = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert f"repeat, asked for by itself: {why[0].upper()}{why[1:]}." in page
    with pytest.raises(NotPossible, match="No percentage leaves the laboratory"):
        approval.decide(result_of(first), "report", note="", by=qa_officer, at=timezone.now())
    note_all(batch, qa_officer)
    sign(batch, qa_officer, why_rest=TOUCHES_NOT)
    sample, other = first.sample, second.sample
    assert (Sample.objects.get(pk=sample.pk).state, Sample.objects.get(pk=other.pk).state) == (
        "prepared",
        "approved",
    )
    moved = sample.moves.order_by("pk").last()
    assert why in moved.reason.lower()
    assert RULE_BEFORE in moved.reason
    assert ("Wash the soluble salts out" in moved.reason) is salts
    assert why_another_portion(sample).lower().startswith(why)
    assert salts_to_wash_out(sample) is salts
    client = as_person(technician)
    assert why in client.get(f"/samples/{sample.lab_number}/weigh/").content.decode().lower()
    page = client.get(f"/samples/{sample.lab_number}/pretreatment/").content.decode()
    assert ("An earlier portion of this sample flocculated" in page) is salts


def test_clear_liquid_seen_confirms_lost_clay_and_no_percentage_is_printed(
    stopped_batch: Batch, qa_officer: Any
) -> None:
    """Bench fault 45: neither sight nor readings alone make the run invalid, both together do."""
    result = result_of(stopped_batch.sample_runs.get())
    seen = {"what": "clear liquid above a sharp front", "slot_s": None, "at_blank": False, "note": ""}
    assert decision_of(result) is None
    result.inputs["seen"] = [seen]
    assert decision_of(result) is None
    result.inputs["seen"], flag = [], result.flags.first()
    assert flag is not None
    flag.pk, flag.code = None, "flocculation_suspected"
    flag.save(force_insert=True)
    assert decision_of(result) is None
    result.inputs["seen"] = [seen | {"at_blank": True}]
    assert decision_of(result) is None, "at the blank"
    result.inputs["seen"] = [seen]
    assert decision_of(result) == "repeat"


def test_a_void_blank_asks_for_no_new_portion_by_itself(two: Batch, technician: Any, work_off: Any) -> None:
    make_void(two.blank, technician, RunVoid.Why.SPILL)
    work_off()
    assert {decision_of(result_of(run)) for run in two.sample_runs} == {None}


def test_a_part_is_approved_only_with_why_the_rest_is_not_touched(
    with_a_void: Any, qa_officer: Any, as_person: Any
) -> None:
    """Bench fault 98: a part is released with a written reason, or nothing is."""
    batch = with_a_void(RunVoid.Why.SPILL)
    note_all(batch, qa_officer)
    with pytest.raises(
        NotPossible, match="Say in a sentence why that does not touch the samples you approve"
    ):
        sign(batch, qa_officer)
    for hammered in ("ok ok ok ok", "aa bb cc dd"):
        with pytest.raises(NotPossible, match="Say in a sentence"):
            sign(batch, qa_officer, why_rest=hammered)
    made = sign(batch, qa_officer, why_rest=TOUCHES_NOT)
    assert made.why_rest == TOUCHES_NOT
    assert f"why the rest is not touched: {TOUCHES_NOT}" in made.covered
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert f"A part was approved, because: {TOUCHES_NOT}" in shown


def test_quality_control_that_failed_lets_no_part_through_for_a_reason(
    two: Batch, qa_officer: Any, technician: Any
) -> None:
    """What failed touches every run: one sample held back and a reason release none of the others."""
    approval.submit(two, by=technician, at=timezone.now())
    note_all(two, qa_officer)
    first = two.sample_runs.order_by("position")[0]
    approval.decide(result_of(first), "repeat", note="The blank.", by=qa_officer, at=timezone.now())
    failed = ["The blank lies 6 spreads off."]
    with pytest.raises(
        NotPossible, match=r"It touches every run, and so 26-00002[.] Such a batch is only returned"
    ):
        sign(two, qa_officer, failed=failed, why_rest=TOUCHES_NOT)


def test_quality_control_that_failed_lets_no_figures_through(submitted_batch: Batch, qa_officer: Any) -> None:
    """Bench fault 98: a reference soil outside its limits blocks the release."""
    note_all(submitted_batch, qa_officer)
    failed = ["The reference soil lies 3.4 spreads off."]
    with pytest.raises(NotPossible, match=r"3\.4 spreads off\. It touches every run"):
        sign(submitted_batch, qa_officer, failed=failed, why_rest="It is only the reference soil.")
    result = result_of(submitted_batch.sample_runs.get())
    approval.decide(result, "repeat", note="With a new reference soil.", by=qa_officer, at=timezone.now())
    sign(submitted_batch, qa_officer, failed=failed)


def test_a_client_reads_why_there_are_no_figures_so_it_is_a_sentence(
    submitted_batch: Batch, qa_officer: Any
) -> None:
    result = result_of(submitted_batch.sample_runs.get())
    for words in ("x", "ok fine good yes"):
        with pytest.raises(NotPossible, match="Say in a sentence why no figures are reported"):
            approval.decide(result, "without figures", note=words, by=qa_officer, at=timezone.now())
        with pytest.raises(DatabaseError), transaction.atomic():
            result.decisions.create(choice="without figures", note=words, by=qa_officer, at=timezone.now())


def test_a_qualifier_goes_out_in_the_officers_own_words(submitted_batch: Batch, qa_officer: Any) -> None:
    run = submitted_batch.sample_runs.get()
    words = "The soil was received wet; the clay may be understated."
    with pytest.raises(NotPossible, match="the certificate prints your words"):
        approval.decide(result_of(run), "with qualifier", note=" ", by=qa_officer, at=timezone.now())
    approval.decide(result_of(run), "with qualifier", note=words, by=qa_officer, at=timezone.now())
    note_all(submitted_batch, qa_officer)
    sign(submitted_batch, qa_officer)
    [signed] = signed_samples([run.sample])
    assert (signed.is_reported, signed.qualifier) == (True, words)


def test_all_attempts_at_a_sample_are_counted_and_shown(
    with_a_void: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any, as_person: Any
) -> None:
    """Bench fault 99: whoever reviews the second attempt sees the first."""
    batch = with_a_void(RunVoid.Why.SPILL)
    note_all(batch, qa_officer)
    sign(batch, qa_officer, why_rest=TOUCHES_NOT)
    sample = batch.sample_runs.order_by("position")[0].sample
    assert [(each.number, each.is_void) for each in attempts_of(sample)] == [(1, True)]
    taken = factories.portion(sample, technician, bench, reason=why_another_portion(sample))
    assert attempts_of(sample)[1].what_became_of_it == "not in a batch yet"
    again = factories.measured([taken], technician, bench)
    work_off()
    approval.submit(again, by=technician, at=timezone.now())
    attempts = attempts_of(sample)
    assert [each.number for each in attempts] == [1, 2]
    assert attempts[0].fractions is None, "the readings of a void run are shown as no figure"
    assert attempts[1].fractions is not None
    assert attempts[0].what_became_of_it == "void: soil or liquid was lost"
    shown = as_person(qa_officer).get(f"/review/{again.number}/").content.decode()
    assert "attempt 2, 2 in all" in shown
    assert "void: soil or liquid was lost" in shown
    assert batch.number in shown


def test_a_returned_batch_handed_back_unchanged_asks_for_words_that_the_reviewer_reads(
    submitted_batch: Batch, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    approval.return_to_bench(
        submitted_batch, by=qa_officer, at=timezone.now(), reason="Is 23.5 at 60 s right?"
    )
    client, address = as_person(technician), f"/batches/{submitted_batch.number}/"
    assert "Is 23.5 at 60 s right?" in client.get(address).content.decode()
    refused = client.post(f"{address}submit/")
    assert refused.status_code == 409
    assert "Nothing was changed since" in refused.content.decode()
    answer = "Read the sheet: 23.5 stands there, the stem was dry."
    assert client.post(f"{address}submit/", {"hand-over-note": answer}).status_code == 302
    shown = as_person(qa_officer).get(f"/review/{submitted_batch.number}/").content.decode()
    for words in ("Is 23.5 at 60 s right?", answer, "Nothing was changed."):
        assert words in shown


def test_what_changed_since_the_return_is_shown_with_figures_before_and_after(
    submitted_batch: Batch, technician: Any, qa_officer: Any, as_person: Any, work_off: Any
) -> None:
    run = submitted_batch.sample_runs.get()
    before = result_of(run)
    approval.return_to_bench(submitted_batch, by=qa_officer, at=timezone.now(), reason="Read the 60 s again.")
    assert since_return(submitted_batch).is_unchanged  # type: ignore[union-attr]
    typed = {"slot_s": 60, "state": "read", "reading": "20.0", "elapsed_s": 60, "temperature_c": "20.0"}
    factories.stored("reading", technician, run=run.pk, source="paper", reason="Misread.", **typed)
    work_off()
    batch = Batch.objects.get(pk=submitted_batch.pk)
    approval.submit(batch, by=technician, at=timezone.now())
    since = since_return(batch)
    assert since is not None
    [figures] = since.figures
    assert (figures.before, figures.now, figures.has_changed) == (before, result_of(run), True)
    assert [act.in_words for act in since.acts] == [since.acts[0].in_words]
    assert "(Misread.)" in since.acts[0].in_words
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    told = shown[shown.index("Since it was returned") :]
    for fractions in figures.fractions:
        assert fractions is not None
        assert f"clay {fractions.clay.value_pct:.1f} %" in told
