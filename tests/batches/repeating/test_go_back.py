"""The sample of a void run waits for a new portion by itself, and stands in its batch again when that is lifted."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import Batch, Run, RunVoid, VoidLifted
from batches.repeating.going_back import coming_back, waiting_for_another
from batches.repeating.rules import RULE_BEFORE, SALTS_FIRST
from batches.review import rules as approval
from batches.voiding.rules import lift_void
from particles.models import PretreatmentDecision, Sample
from particles.records.refusals import NotPossible
from tests.batches.review.test_sign_everything_shown import note_all, sign
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)
TOUCHES_NOT = "The spill was in one cylinder; blank and the other cylinder stood apart from it."


def make_void(run: Run, by: Any, why: str = RunVoid.Why.SPILL, note: str = "") -> None:
    factories.stored("void", by, run=run.pk, why=why, voided_at=timezone.now().isoformat(), note=note)


def sample_of(run: Run) -> Sample:
    return Sample.objects.get(pk=run.sample.pk)


@pytest.fixture
def two(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Batch:
    """Two loams, computed and not handed over yet."""
    made = factories.measured_batch(the_client, clerk, technician, bench, samples=2)
    work_off()
    return made


def test_bench_fault_38_a_spill_brings_the_sample_back_for_a_new_portion_at_once(
    running: Run, technician: Any, as_person: Any
) -> None:
    make_void(running, technician, note="Half of it.")
    sample = sample_of(running)
    assert sample.state == "prepared"
    reason = sample.moves.order_by("pk").last().reason
    assert "is void: soil or liquid was lost (Half of it.)." in reason
    assert RULE_BEFORE in reason, "settled before anything new is seen"
    other = running.batch.runs.get(position=2)
    assert sample_of(other).state == "in batch", "the neighbour stays where it is"
    client = as_person(technician)
    for address, after in (
        ("/preparation/", "To dry and sieve"),
        ("/weighing/", "Portions that lack a mass"),
    ):
        shown = client.get(address).content.decode()
        first = shown.index('id="back"')
        assert first < shown.index(sample.lab_number) < shown.index(after), "shown first"
        assert "Half of it." in shown
        assert "Advised:" not in shown, "nothing was wrong with its salts"
    assert "Cylinder" not in shown[: shown.index('id="back"')]
    batch_page = client.get(f"/batches/{running.batch.number}/").content.decode()
    assert "cylinder C02 (soil or liquid was lost)" in batch_page
    assert "/preparation/#back" in batch_page
    assert client.get(f"/samples/{sample.lab_number}/weigh/").content.decode().count("Half of it.") >= 1
    taken = factories.send("portion", technician, sample=sample.pk, reason="Spilt.", density="assumed")
    assert taken.stored, taken.sentence
    assert sample.lab_number not in client.get("/preparation/").content.decode()


def test_bench_fault_45_a_flocculated_soil_comes_back_with_the_salts_to_wash_out(
    running: Run, technician: Any, as_person: Any
) -> None:
    make_void(running, technician, RunVoid.Why.FLOCCULATED)
    client, sample = as_person(technician), sample_of(running)
    shown = client.get("/preparation/").content.decode()
    assert f"Advised: {SALTS_FIRST}" in shown
    advised = client.get(f"/samples/{sample.lab_number}/pretreatment/").content.decode()
    assert "salts" in advised.lower()
    [row] = coming_back(list(waiting_for_another(technician)))
    assert row.salts_first
    PretreatmentDecision.objects.create(
        sample=sample, remove_organic_matter=False, remove_carbonates=False, remove_soluble_salts=True,
        reason="Flocculated.", by=technician, at=timezone.now(),
    )  # fmt: skip
    [row] = coming_back(list(waiting_for_another(technician)))
    assert (row.salts_first, row.advised) == (False, ""), "it is decided for the new portion"
    portion = running.portion
    assert portion is not None
    assert portion.decision.remove_soluble_salts is False, "what was done to the old portion stays true"


def test_a_void_duplicate_or_blank_moves_no_sample(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    made = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.0])
    duplicate = next(run for run in made.sample_runs if run.is_duplicate)
    make_void(duplicate, technician)
    make_void(made.blank, technician, RunVoid.Why.NO_DISPERSANT)
    assert sample_of(duplicate).state == "in batch"


def test_the_list_of_what_came_back_asks_as_often_for_many_as_for_one(two: Batch, technician: Any) -> None:
    counts = []
    for run in two.sample_runs.order_by("position"):
        make_void(run, technician)
        with CaptureQueriesContext(connection) as asked:
            rows = coming_back(list(waiting_for_another(technician)))
        counts.append((len(rows), len(asked)))
    assert [rows for rows, _ in counts] == [1, 2]
    assert counts[0][1] == counts[1][1]


def test_a_lifted_void_brings_the_sample_back_into_its_batch_and_to_its_signature(
    two: Batch, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    run = two.sample_runs.order_by("position")[0]
    make_void(run, technician)
    assert sample_of(run).state == "prepared"
    lift_void(run, reason="It was the next cylinder.", by=qa_officer, at=timezone.now())
    assert sample_of(run).state == "calculated"
    work_off()
    approval.submit(two, by=technician, at=timezone.now())
    assert sample_of(run).state == "under review"
    batch = Batch.objects.get(pk=two.pk)
    note_all(batch, qa_officer)
    sign(batch, qa_officer)
    assert sample_of(run).state == "approved"


def test_a_void_run_reported_without_figures_waits_for_no_new_portion_any_more(
    two: Batch, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    """No soil is left, for instance."""
    run = two.sample_runs.order_by("position")[0]
    make_void(run, technician)
    work_off()
    approval.submit(two, by=technician, at=timezone.now())
    batch, result = Batch.objects.get(pk=two.pk), result_in_force(run)
    assert result is not None
    note_all(batch, qa_officer)
    words = "The soil was spilt and no more of it was received."
    approval.decide(result, "without figures", note=words, by=qa_officer, at=timezone.now())
    sign(batch, qa_officer, why_rest=TOUCHES_NOT)
    assert sample_of(run).state == "approved"


def test_a_void_lifted_under_review_puts_the_sample_under_review(
    two: Batch, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    run = two.sample_runs.order_by("position")[0]
    make_void(run, technician)
    work_off()
    approval.submit(two, by=technician, at=timezone.now())
    assert sample_of(run).state == "prepared", "it waits for its new portion while the batch is reviewed"
    lift_void(Run.objects.get(pk=run.pk), reason="Not so.", by=qa_officer, at=timezone.now())
    assert sample_of(run).state == "under review"


def test_a_void_stays_once_a_new_portion_is_open(
    two: Batch, technician: Any, qa_officer: Any, bench: Any
) -> None:
    run = two.sample_runs.order_by("position")[0]
    make_void(run, technician)
    factories.portion(sample_of(run), technician, bench, reason="Spilt.")
    with pytest.raises(NotPossible, match="Another portion of this sample was opened by"):
        lift_void(run, reason="Not so.", by=qa_officer, at=timezone.now())
    assert not VoidLifted.objects.exists()


def test_the_new_portion_goes_its_way_while_the_first_batch_is_reviewed_signed_and_returned(
    two: Batch, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> None:
    """The old batch moves no sample that has gone on, whatever becomes of it."""
    run = two.sample_runs.order_by("position")[0]
    make_void(run, technician)
    taken = factories.portion(sample_of(run), technician, bench, reason="Spilt.")
    again = factories.measured([taken], technician, bench)
    work_off()
    assert sample_of(run).state == "calculated", "by the run of the new portion"
    approval.submit(two, by=technician, at=timezone.now())
    assert sample_of(run).state == "calculated", "not handed over with the old batch"
    approval.submit(again, by=technician, at=timezone.now())
    approval.return_to_bench(
        Batch.objects.get(pk=two.pk), by=qa_officer, at=timezone.now(), reason="Look at the other."
    )
    assert sample_of(run).state == "under review", "not returned with the old batch"
    approval.submit(Batch.objects.get(pk=two.pk), by=technician, at=timezone.now(), note="Looked, it stands.")
    batch = Batch.objects.get(pk=two.pk)
    note_all(batch, qa_officer)
    sign(batch, qa_officer, why_rest=TOUCHES_NOT)
    assert sample_of(run).state == "under review", "not sent back by the old batch"
    assert result_in_force(again.sample_runs.get()) is not None


def test_a_signature_leaves_what_came_back_where_it_waits(
    two: Batch, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    run, other = two.sample_runs.order_by("position")
    make_void(run, technician)
    work_off()
    approval.submit(two, by=technician, at=timezone.now())
    batch = Batch.objects.get(pk=two.pk)
    note_all(batch, qa_officer)
    sign(batch, qa_officer, why_rest=TOUCHES_NOT)
    assert (sample_of(run).state, sample_of(other).state) == ("prepared", "approved")
    assert sample_of(run).moves.filter(to_state="prepared").count() == 2, "prepared once, and back once"


def test_a_batch_given_up_moves_no_sample_twice(running: Run, technician: Any) -> None:
    make_void(running, technician)
    Batch.objects.get(pk=running.batch.pk).abort(by=technician, at=timezone.now(), reason="Power cut.")
    other = running.batch.runs.get(position=2)
    assert (sample_of(running).state, sample_of(other).state) == ("prepared", "prepared")
    assert "void" in sample_of(running).moves.order_by("pk").last().reason
