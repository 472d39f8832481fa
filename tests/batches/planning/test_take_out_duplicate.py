"""A duplicate that cannot be weighed leaves the plan of its batch: who may say so, what is kept, who reads it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from batches.bench.state import state_of
from batches.computing.record import gather_batch
from batches.models import Batch, Cylinder, Entry, Run, TakenOut, Weighing
from batches.planning.rules import add_duplicate, candidates, start_soak
from batches.review import rules as approval
from batches.review.signing import signed_results
from batches.voiding import rules as voiding
from particles.models import Portion
from particles.records.refusals import NotPossible, NotThisPerson
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "The bag is empty: the label was read wrong when it was prepared."


@pytest.fixture
def planned(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Batch:
    """Two samples with the one duplicate of the rule, which waits to be weighed."""
    at = timezone.now() - timedelta(days=3)
    job = factories.job(the_client, clerk, at=at, samples=2)
    portions = [
        factories.portion(factories.prepared(s, technician, at=at), technician, bench)
        for s in job.samples.all()
    ]
    return factories.batch_with_duplicates(portions, technician, bench, at=at, filled=False)


@pytest.fixture
def duplicate(planned: Batch) -> Run:
    return planned.runs.get(portion__duplicate_of__isnull=False)


@pytest.fixture
def take_out(as_person: Any, technician: Any, duplicate: Run) -> Any:
    def post(*, by: Any = None, reason: str = WHY, entry_id: Any = None) -> Any:
        address = f"/batches/{duplicate.batch.number}/portions/{duplicate.pk}/take-out/"
        typed = {"reason": reason, "entry_id": str(entry_id or uuid4())}
        return as_person(by or technician).post(address, typed)

    return post


def test_the_run_leaves_the_plan_and_stays_on_record(
    planned: Batch, duplicate: Run, take_out: Any, technician: Any, as_person: Any
) -> None:
    shown = as_person(technician).get(f"/batches/{planned.number}/").content.decode()
    assert "It cannot be weighed" in shown
    assert take_out().status_code == 302
    kept = TakenOut.objects.get()
    assert (kept.run, kept.by, kept.reason) == (duplicate, technician, WHY)
    assert Entry.objects.filter(kind="cannot be weighed", verdict__outcome="stored").count() == 1
    assert Portion.objects.filter(duplicate_of__isnull=False).count() == 1
    start_soak(planned, by=technician, at=timezone.now())
    assert [run.is_duplicate for run in planned.sample_runs] == [False, False]
    assert [each["title"] for each in state_of([planned])["batches"][0]["runs"]] == [
        "blank",
        *(run.bench_title for run in planned.sample_runs),
    ]
    assert len(gather_batch(planned)) == 2
    client = as_person(technician)
    for address in (f"/batches/{planned.number}/", f"/runs/{duplicate.pk}/"):
        assert WHY in client.get(address).content.decode()
    assert "Still to be read" not in client.get(f"/runs/{duplicate.pk}/").content.decode()


def test_its_cylinder_is_free_for_another_batch_and_not_for_this_one(
    planned: Batch, duplicate: Run, take_out: Any, technician: Any
) -> None:
    cylinder = duplicate.cylinder
    assert not Cylinder.objects.free().filter(pk=cylinder.pk).exists()
    take_out()
    assert Cylinder.objects.free().filter(pk=cylinder.pk).exists()
    assert Cylinder.objects.free().count() == Cylinder.objects.count() - 3
    with pytest.raises(NotPossible, match="for the portion taken out"):
        add_duplicate(planned, cylinder=cylinder, reason="Another.", by=technician, at=timezone.now())


def test_another_sample_can_get_one_in_its_place(
    planned: Batch, duplicate: Run, take_out: Any, technician: Any, bench: Any
) -> None:
    assert take_out(entry_id=uuid4()).status_code == 302
    assert [portion.sample for portion in candidates(planned)] == [
        run.sample for run in planned.reported_runs if run.sample != duplicate.sample
    ]
    added = add_duplicate(
        planned, cylinder=bench.cylinders[5], reason="The bag was empty.", by=technician, at=timezone.now()
    )
    assert (added.sample != duplicate.sample, added.position) == (True, 4)


def test_the_batch_is_read_and_approved_without_it(
    planned: Batch, take_out: Any, technician: Any, qa_officer: Any, work_off: Any, as_person: Any
) -> None:
    take_out()
    at = timezone.now() - timedelta(days=3)
    start_soak(planned, by=technician, at=at)
    planned.disperse(by=technician, at=at + timedelta(hours=16), mixing_minutes=5)
    for run in planned.runs.in_plan():
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=timezone.now() - timedelta(days=2))
    planned.refresh_from_db()
    assert planned.state == "readings complete"
    work_off()
    approval.submit(planned, by=technician, at=timezone.now())
    shown = as_person(qa_officer).get(f"/review/{planned.number}/").content.decode()
    assert "The batch holds 0 duplicates; the laboratory&#x27;s rule asks for 1." in shown
    assert f"could not be weighed, taken out by {technician}" in shown
    assert WHY in shown
    settle(planned, qa_officer)
    approval.approve(planned, by=qa_officer, at=timezone.now(), secret=SECRET)
    planned.refresh_from_db()
    assert set(signed_results(planned)) == {run.pk for run in planned.sample_runs}


def test_whoever_took_it_out_does_not_approve(planned: Batch, qa_officer: Any, duplicate: Run) -> None:
    entry = Entry.keep(uuid4(), "cannot be weighed", {}, by=qa_officer, at=timezone.now())
    voiding.take_out(duplicate.portion, reason=WHY, entry=entry, by=qa_officer, at=timezone.now())
    with pytest.raises(NotThisPerson):
        planned.require_other_person(qa_officer)


def test_nothing_is_weighed_of_it_any_more(
    duplicate: Run, take_out: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    waiting = f"/portions/{duplicate.portion.code}/weigh/"
    client = as_person(technician)
    assert waiting in client.get("/weighing/").content.decode()
    take_out()
    assert waiting not in client.get("/weighing/").content.decode()
    assert "Keep the masses" not in client.get(waiting).content.decode()
    masses = {"balance": bench.balance.pk, **factories.MASSES_G}
    answer = factories.send("weighing", technician, portion=duplicate.portion_id, **masses)
    assert not answer.stored
    assert f"was taken out of {duplicate.batch}" in answer.sentence
    assert not Weighing.objects.filter(portion=duplicate.portion).exists()


def test_it_is_refused_without_a_reason_and_what_was_typed_is_kept(take_out: Any) -> None:
    refused = take_out(reason="")
    assert refused.status_code == 422
    assert "Nothing was typed here." in refused.content.decode()
    assert Entry.objects.filter(kind="cannot be weighed", verdict__outcome="refused").count() == 1
    assert not TakenOut.objects.exists()


def test_sent_twice_it_is_one(take_out: Any) -> None:
    name = uuid4()
    assert [take_out(entry_id=name).status_code for _ in range(2)] == [302, 302]
    assert "was taken out already" in take_out().content.decode()
    assert TakenOut.objects.count() == 1


def test_one_that_is_weighed_stays_in(duplicate: Run, take_out: Any, technician: Any, bench: Any) -> None:
    masses = {"balance": bench.balance.pk, **factories.MASSES_G}
    factories.stored("weighing", technician, portion=duplicate.portion_id, **masses)
    answer = take_out()
    assert answer.status_code == 409
    assert not TakenOut.objects.exists()


def test_it_is_too_late_once_the_soak_runs_and_no_first_portion_goes(
    planned: Batch, duplicate: Run, technician: Any, bench: Any
) -> None:
    now = timezone.now()
    entry = Entry.keep(uuid4(), "cannot be weighed", {}, by=technician, at=now)
    masses = {"balance": bench.balance.pk, **factories.MASSES_G}
    factories.stored("weighing", technician, portion=duplicate.portion_id, **masses)
    for run in planned.sample_runs:
        with pytest.raises(NotPossible, match=f"{run.portion.code} is weighed. It runs with the batch"):
            voiding.take_out(run.portion, reason=WHY, entry=entry, by=technician, at=now)
    start_soak(planned, by=technician, at=now)
    with pytest.raises(NotPossible, match="void its run"):
        voiding.take_out(duplicate.portion, reason=WHY, entry=entry, by=technician, at=now)


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "manager", "custodian", "client_person"])
def test_who_may_not(take_out: Any, request: pytest.FixtureRequest, person: str) -> None:
    assert take_out(by=request.getfixturevalue(person)).status_code == 403
    assert not TakenOut.objects.exists()


def test_the_database_refuses_the_rest(
    planned: Batch, duplicate: Run, take_out: Any, technician: Any, bench: Any
) -> None:
    insert = (
        "INSERT INTO batches_takenout (run_id, reason, entry_id, by_id, at) VALUES (%s, 'x', %s, %s, now())"
    )
    entry = Entry.keep(uuid4(), "cannot be weighed", {}, by=technician, at=timezone.now())

    def refused(statement: str, *values: Any) -> str:
        with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement, values)
        return str(caught.value)

    first = planned.reported_runs[0]
    assert "only a portion the program chose" in refused(insert, first.pk, entry.pk, technician.pk)
    take_out()
    assert "Cannot update or delete" in refused(
        "DELETE FROM batches_takenout WHERE run_id = %s", duplicate.pk
    )
    weigh = (
        "INSERT INTO batches_weighing (portion_id, purpose, attempt, mass_g, reason, balance_id, entry_id, by_id, at)"
        " VALUES (%s, 'portion', 1, 40, '', %s, %s, %s, now())"
    )
    taken = (duplicate.portion_id, bench.balance.pk, entry.pk, technician.pk)
    assert "the portion was taken out" in refused(weigh, *taken)
