"""Portions into cylinders, soak, dispersion, and giving a batch up."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from batches.models import Batch, Entry
from batches.planning.rules import unweighed_chosen
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def portion(prepared_sample: Any, technician: Any, bench: Any) -> Any:
    return factories.portion(prepared_sample, technician, bench)


@pytest.fixture
def plan(portion: Any, technician: Any, bench: Any, as_person: Any) -> Any:
    def post(**typed: Any) -> Any:
        fields = {
            "method": portion.sample.job.method.pk,
            "lot": bench.lot.pk,
            "hydrometer": bench.hydrometer.pk,
            "thermometer": bench.thermometer.pk,
            "cylinder_blank": bench.cylinders[0].pk,
            f"take_{portion.pk}": "on",
            f"cylinder_portion_{portion.pk}": bench.cylinders[1].pk,
            "cylinder_more_1": bench.cylinders[2].pk,
        }
        return as_person(technician).post("/batches/new/", fields | typed)

    return post


def test_the_blank_is_there_whoever_plans(plan: Any, portion: Any) -> None:
    assert plan().status_code == 302
    batch = Batch.objects.get()
    assert [run.is_blank for run in batch.runs.all()] == [True, False, False]
    portion.sample.refresh_from_db()
    assert portion.sample.state == "in batch"


def test_the_page_proposes_free_cylinders(portion: Any, technician: Any, bench: Any, as_person: Any) -> None:
    shown = as_person(technician).get("/batches/new/").content.decode()
    assert f'<option value="{bench.cylinders[0].pk}" selected>C01' in shown
    assert f'<option value="{bench.cylinders[1].pk}" selected>C02' in shown


def test_nothing_ticked_or_one_cylinder_twice_is_refused(plan: Any, portion: Any, bench: Any) -> None:
    assert "Tick at least one" in plan(**{f"take_{portion.pk}": ""}).content.decode()
    twice = plan(cylinder_blank=bench.cylinders[1].pk)
    assert twice.status_code == 422
    assert "chosen twice" in twice.content.decode()
    assert not Batch.objects.exists()


def test_what_is_overdue_expired_or_busy_is_not_taken(plan: Any, portion: Any, bench: Any) -> None:
    bench.thermometer.withdraw(on=timezone.now().date(), reason="Broken.")
    assert plan().status_code == 422
    type(bench.thermometer).objects.update(withdrawn_on=None, withdrawn_reason="")
    assert plan().status_code == 302
    again = plan()
    assert again.status_code == 404, "no portion of this method waits any more"
    assert Batch.objects.count() == 1


def test_a_portion_without_its_mass_does_not_wait_for_a_batch(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    factories.portion(prepared_sample, technician, bench, tin_g="20.00")
    shown = as_person(technician).get("/batches/new/").content.decode()
    assert "No weighed portion waits" in shown


def test_soak_and_dispersion(plan: Any, technician: Any, qa_officer: Any, bench: Any, as_person: Any) -> None:
    plan()
    client, batch = as_person(technician), Batch.objects.get()
    (duplicate,) = unweighed_chosen(batch)
    factories.stored(
        "weighing", technician, portion=duplicate.pk, balance=bench.balance.pk, **factories.MASSES_G
    )
    address = f"/batches/{batch.number}"

    def fill(**typed: str) -> Any:
        return client.post(f"{address}/disperse/", {"mixing_minutes": "5", "entry_id": str(uuid4())} | typed)

    assert fill(to_the_line="on").status_code == 409
    assert client.post(f"{address}/soak/").status_code == 302
    assert client.post(f"{address}/soak/").status_code == 409
    not_ticked = fill()
    assert not_ticked.status_code == 422
    assert "without foam" in not_ticked.content.decode()
    short = fill(to_the_line="on")
    assert short.status_code == 409
    assert "The soak lasted 0.0 h" in short.content.decode()
    assert 'value="5"' in short.content.decode()
    assert Entry.objects.filter(kind="filling", verdict__outcome="refused").count() == 3
    name = str(uuid4())
    for _ in range(2):  # the same form sent twice is one filling
        assert fill(to_the_line="on", soak_note="Urgent job.", entry_id=name).status_code == 302
    batch.refresh_from_db()
    assert (batch.state, batch.soak_note) == ("dispersed", "Urgent job.")
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert "The soak lasted 0.0 h" in shown, "the reviewer sees what was refused"


def test_giving_up_needs_a_reason_and_frees_the_samples(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    client, address = as_person(technician), f"/batches/{filled_batch.number}/abort/"
    assert client.post(address, {"abort-reason": ""}).status_code == 422
    assert client.post(address, {"abort-reason": "Wrong dispersant."}).status_code == 302
    filled_batch.refresh_from_db()
    assert filled_batch.state == "aborted"
    assert {run.portion.sample.state for run in filled_batch.sample_runs} == {"prepared"}
    assert "Wrong dispersant." in client.get(f"/batches/{filled_batch.number}/").content.decode()


def test_a_batch_with_all_readings_is_not_given_up(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    answer = as_person(technician).post(f"/batches/{batch.number}/abort/", {"abort-reason": "No."})
    assert answer.status_code == 409


def test_submitting_waits_for_the_worker(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any, work_off: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    client, address = as_person(technician), f"/batches/{batch.number}"
    assert client.get(f"{address}/computed/").json() == {"waiting": 1}
    early = client.post(f"{address}/submit/")
    assert early.status_code == 409
    assert "Not computed yet" in early.content.decode()
    work_off()
    assert client.get(f"{address}/computed/").json() == {"waiting": 0}
    assert client.post(f"{address}/submit/").status_code == 302
    batch.refresh_from_db()
    assert batch.state == "submitted for review"


def test_pages_of_batches_cost_a_constant_number_of_queries(
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    as_person: Any,
    django_assert_max_num_queries: Any,
) -> None:
    now = timezone.now() - timedelta(days=4)
    portions = [
        factories.portion(factories.prepared(s, technician, at=now), technician, bench)
        for s in factories.job(the_client, clerk, at=now, samples=5).samples.all()
    ]
    batch = factories.batch(portions, technician, bench, at=now + timedelta(days=1))
    client = as_person(technician)
    for address, most in (("/batches/", 8), (f"/batches/{batch.number}/", 14), ("/weighing/", 12)):
        with django_assert_max_num_queries(most):
            assert client.get(address).status_code == 200


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "custodian", "client_person"])
def test_who_may_not_plan(
    filled_batch: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.get("/batches/new/").status_code == 403
    for step in ("soak", "disperse", "abort", "submit"):
        assert client.post(f"/batches/{filled_batch.number}/{step}/").status_code == 403
    sees = person in ("qa_officer", "custodian")
    assert client.get(f"/batches/{filled_batch.number}/").status_code == (200 if sees else 403)
    assert client.get("/batches/").status_code == (200 if sees else 403)
