"""A run made void by mistake: the QA officer lifts it with a reason, and both acts stay on record."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.bench.state import state_of
from batches.computing.models import result_in_force
from batches.models import Batch, ComputationRequest, Run, RunVoid, VoidLifted
from batches.review import rules as approval
from batches.review.rules import fresh_result
from batches.voiding.models import is_void
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "The spill was at cylinder C05."


def make_void(run: Run, by: Any) -> None:
    factories.stored(
        "void", by, run=run.pk, why=RunVoid.Why.SPILL, voided_at=timezone.now().isoformat(), note="A little."
    )


@pytest.fixture
def void(measured: Batch, technician: Any, work_off: Any) -> Run:
    run = measured.sample_runs.get()
    make_void(run, technician)
    work_off()
    return run


@pytest.fixture
def lift(as_person: Any, qa_officer: Any) -> Any:
    def post(run: Run, *, by: Any = None, reason: str = WHY) -> Any:
        return as_person(by or qa_officer).post(f"/runs/{run.pk}/lift/", {"lift-reason": reason})

    return post


def test_the_figures_are_those_from_before_it_and_both_acts_stay(
    void: Run, lift: Any, qa_officer: Any, as_person: Any
) -> None:
    client, address = as_person(qa_officer), f"/runs/{void.pk}/"
    stopped, before = fresh_result(void), void.results.order_by("pk")[0]
    assert stopped is not None
    assert stopped.certifiable is False
    assert "The run is not void" in client.get(address).content.decode()
    assert lift(void).status_code == 302
    kept = VoidLifted.objects.get()
    assert (kept.void, kept.by, kept.reason) == (RunVoid.objects.get(), qa_officer, WHY)
    again = Run.objects.get(pk=void.pk)
    assert is_void(again) is False
    assert fresh_result(again) == result_in_force(again) == before
    shown = client.get(address).content.decode()
    assert f"Lifted by {qa_officer}" in shown
    assert WHY in shown
    assert "Lift the void" not in shown
    assert [run["void"] for run in state_of([void.batch])["batches"][0]["runs"]] == [None, None]


def test_of_a_batch_under_review_it_goes_back_to_the_bench_first(
    void: Run, lift: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    batch = void.batch
    approval.submit(batch, by=technician, at=timezone.now())
    review = f"/review/{batch.number}/"
    assert f"/runs/{void.pk}/#seen" in as_person(qa_officer).get(review).content.decode()
    answer = lift(void)
    assert answer.status_code == 302
    shown = answer.client.get(answer["Location"]).content.decode()
    assert "Return the batch to the bench" in shown
    assert WHY in as_person(qa_officer).get(review).content.decode()
    batch.refresh_from_db()
    assert batch.state == "submitted for review"
    approval.return_to_bench(batch, by=qa_officer, at=timezone.now(), reason="No spill.")
    batch.refresh_from_db()
    approval.submit(batch, by=technician, at=timezone.now())
    batch.refresh_from_db()
    assert batch.state == "submitted for review"
    result = result_in_force(Run.objects.get(pk=void.pk))
    assert result is not None
    assert result.certifiable is True


def test_readings_missed_meanwhile_are_asked_for(
    filled_batch: Batch, technician: Any, lift: Any, send_entry: Any, a_reading: Any
) -> None:  # fmt: skip
    run = filled_batch.runs.get(position=1)
    started_at = (timezone.now() - timedelta(days=2)).isoformat()
    factories.stored("start", technician, run=run.pk, started_at=started_at, source="paper")
    make_void(run, technician)
    assert send_entry("reading", a_reading(run)).status_code == 409
    answer = lift(run)
    shown = answer.client.get(answer["Location"]).content.decode()
    assert "4 of its readings are still missing" in shown
    assert send_entry("reading", a_reading(run)).status_code == 201
    make_void(run, technician)
    assert RunVoid.objects.filter(run=run).count() == 2, "it may be void after all"
    assert is_void(Run.objects.get(pk=run.pk))
    assert send_entry("reading", a_reading(run, slot_s=60, elapsed_s="60")).status_code == 409


def test_a_blank_that_counts_again_has_every_run_computed(
    measured: Batch, technician: Any, lift: Any, work_off: Any
) -> None:
    make_void(measured.blank, technician)
    work_off()
    run = measured.sample_runs.get()
    assert result_in_force(run) is not None
    assert result_in_force(run).certifiable is False
    lift(measured.blank)
    assert result_in_force(run) is not None
    assert result_in_force(run).certifiable is True
    assert ComputationRequest.objects.filter(run=run, state="asked").count() == 0, "it had been computed"


@pytest.mark.parametrize("person", ["clerk", "technician", "manager", "custodian", "client_person"])
def test_who_may_not(void: Run, lift: Any, request: pytest.FixtureRequest, person: str) -> None:
    assert lift(void, by=request.getfixturevalue(person)).status_code == 403
    assert not VoidLifted.objects.exists()


def test_whoever_worked_in_the_batch_lifts_nothing(measured: Batch, qa_officer: Any, lift: Any) -> None:
    run = measured.sample_runs.get()
    make_void(run, qa_officer)
    answer = lift(run)
    assert (answer.status_code, "worked in" in answer.content.decode()) == (403, True)
    assert not VoidLifted.objects.exists()


def test_a_reason_is_asked_for_and_only_a_void_is_lifted_once(void: Run, lift: Any) -> None:
    assert lift(void, reason="").status_code == 422
    assert lift(void.batch.blank).status_code == 409
    assert [lift(void).status_code for _ in range(2)] == [302, 409]
    assert VoidLifted.objects.count() == 1


def test_a_run_never_started_stays_void_once_the_batch_is_read(
    filled_batch: Batch, technician: Any, lift: Any
) -> None:
    run = filled_batch.runs.get(position=1)
    make_void(run, technician)
    for other in filled_batch.runs.exclude(pk=run.pk):
        values = factories.BLANK_G_L if other.is_blank else factories.LOAM_G_L
        factories.read_run(other, technician, values, started_at=timezone.now() - timedelta(days=2))
    answer = lift(run)
    assert (answer.status_code, "was never started" in answer.content.decode()) == (409, True)


def test_a_closed_batch_keeps_its_voids_and_the_database_agrees(
    void: Run, lift: Any, technician: Any, qa_officer: Any
) -> None:
    batch = void.batch
    approval.submit(batch, by=technician, at=timezone.now())
    approval.reject(batch, by=qa_officer, at=timezone.now(), reason="Spilt.")
    answer = lift(void)
    assert (answer.status_code, "stays void" in answer.content.decode()) == (409, True)
    row = VoidLifted(void=RunVoid.objects.get(), reason=WHY, by=qa_officer, at=timezone.now())
    with pytest.raises(DatabaseError, match="closed batch"), transaction.atomic():
        row.save()


def test_the_database_keeps_both_as_they_are_and_one_void_at_a_time(
    void: Run, lift: Any, technician: Any
) -> None:
    first = RunVoid.objects.get()
    with pytest.raises(DatabaseError, match="the run is void already"), transaction.atomic():
        RunVoid.objects.create(
            run=void, why=first.why, voided_at=first.voided_at, entry=first.entry, by=technician, at=first.at
        )
    lift(void)
    with pytest.raises(DatabaseError, match="never_changed"), transaction.atomic():
        VoidLifted.objects.update(reason="Another.")
    with pytest.raises(DatabaseError, match="never_changed"), transaction.atomic():
        VoidLifted.objects.all()._raw_delete("default")
