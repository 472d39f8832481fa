"""Sequences of ordinary acts that must not lead to an unsigned figure, a stuck batch or soil opened unlawfully."""

from __future__ import annotations

import threading
import time
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client as Browser
from django.utils import timezone

from batches.computing import rules as computing
from batches.computing.models import result_in_force
from batches.models import ComputationRequest, Cylinder, Run
from batches.review import rules as approval
from batches.review.signed import results_of
from particles.models import Job, MethodEditionRecord, RegulatedArea
from particles.records.refusals import NotPossible
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import look_at_quality, settle

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def measured(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    return factories.measured_batch(the_client, clerk, technician, bench)


def correct(run: Any, by: Any, value: str) -> None:
    factories.stored(
        "reading", by, run=run.pk, slot_s=5400, state="read", reading=value, elapsed_s=5400,
        temperature_c="20.0", source="paper", reason="Typed wrongly.",
    )  # fmt: skip


def approve(batch: Any, technician: Any, qa_officer: Any) -> Any:
    approval.submit(batch, by=technician, at=timezone.now())
    result = approval.fresh_result(batch.sample_runs.get())
    settle(batch, qa_officer)
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    return result


def test_a_value_corrected_and_corrected_back_before_the_worker_came_is_computed(
    measured: Any, technician: Any, work_off: Any
) -> None:
    run = measured.sample_runs.get()
    correct(run, technician, "12.5")
    work_off()
    correct(run, technician, "13.5")
    work_off()
    assert approval.fresh_result(run) == result_in_force(run) is not None
    approval.submit(measured, by=technician, at=timezone.now())


def test_a_failed_request_is_asked_again_when_the_batch_is_handed_over(
    measured: Any, technician: Any, work_off: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr("batches.computing.rules.compute_distribution", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            work_off()
    assert ComputationRequest.objects.get().state == "failed"
    with pytest.raises(NotPossible, match="Not computed yet"):
        approval.submit(measured, by=technician, at=timezone.now())
    assert work_off() == 1
    approval.submit(measured, by=technician, at=timezone.now())


def test_an_older_request_that_ends_meanwhile_does_not_fail_the_newer_one(
    measured: Any, technician: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = measured.sample_runs.get()
    older = ComputationRequest.objects.claim(run.requests.get().pk, at=timezone.now())
    seen = Run.objects.select_related("batch__method", "portion__sample", "cylinder").get(pk=run.pk)
    record = computing.gather(seen)
    correct(run, technician, "12.5")
    newer = run.requests.order_by("-turn").first()
    real = computing.compute_distribution

    def older_first(*given: Any) -> Any:
        monkeypatch.setattr(computing, "compute_distribution", real)
        computing._store(older, seen, record)
        return real(*given)

    monkeypatch.setattr(computing, "compute_distribution", older_first)
    computing.work(newer.pk, at=timezone.now())
    newer.refresh_from_db()
    assert newer.state == "done"
    assert result_in_force(run).request == newer


def test_handing_over_an_approved_batch_again_computes_nothing_new(
    measured: Any, technician: Any, qa_officer: Any, work_off: Any, new_engine: Any
) -> None:
    work_off()
    signed = approve(measured, technician, qa_officer)
    new_engine()
    browser = Browser()
    browser.force_login(technician)
    assert browser.post(f"/batches/{measured.number}/submit/").status_code == 409
    assert work_off() == 0
    assert results_of([signed.run.sample]) == [signed]


def test_figures_that_are_not_those_signed_are_never_issued(
    measured: Any, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    work_off()
    signed = approve(measured, technician, qa_officer)
    with connection.cursor() as cursor:  # as somebody who may switch the triggers off
        cursor.execute("SET session_replication_role = replica")
        cursor.execute("UPDATE batches_result SET engine_version = '0.0.1'")
        cursor.execute("SET session_replication_role = DEFAULT")
    with pytest.raises(NotPossible, match=r"not those .* signed"):
        results_of([signed.run.sample])


def test_two_people_planning_at_once_cannot_take_one_cylinder(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    job = factories.job(the_client, clerk, samples=2)
    first, second = (
        factories.portion(factories.prepared(s, technician), technician, bench) for s in job.samples.all()
    )
    told: list[str] = []
    planned = threading.Event()

    def other() -> None:
        try:
            planned.wait(20)
            factories.batch([second], technician, bench, at=timezone.now(), filled=False)
        except NotPossible as refusal:
            told.append(str(refusal))
        finally:
            connection.close()

    thread = threading.Thread(target=other)
    thread.start()
    with transaction.atomic():
        factories.batch([first], technician, bench, at=timezone.now(), filled=False)
        planned.set()
        time.sleep(0.5)  # the other one now waits for the locked cylinders
    thread.join()
    assert ["Still in use" in sentence for sentence in told] == [True]
    assert all(c.runs.count() <= 1 for c in Cylinder.objects.all())


@pytest.mark.parametrize(("region", "held"), [("", True), ("cyst county", True), ("Clean County", False)])
def test_soil_whose_region_is_not_said_may_come_from_a_regulated_one(
    the_client: Any, clerk: Any, bench: Any, region: str, held: bool
) -> None:
    RegulatedArea.objects.create(
        country="Farland", region="Cyst County", rule="example", listed_on=timezone.localdate()
    )
    line = {"client_label": "a", "origin_country": "FARLAND", "origin_region": region}
    job = Job.log(
        client=the_client, lines=[line], by=clerk, at=timezone.now(),
        method=MethodEditionRecord.objects.get(code=factories.FOUR_READINGS),
    )  # fmt: skip
    sample = job.samples.get()
    assert (sample.state == "on hold") is held
    assert job.samples.with_regulation().get().regulated is held
    if held:
        with pytest.raises(NotPossible, match="regulated"):
            sample.accept(by=clerk, at=timezone.now(), reason="asked")


def test_soil_listed_after_its_preparation_is_not_weighed(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    RegulatedArea.objects.create(
        country="Examplia", region="", rule="example", listed_on=timezone.localdate()
    )
    with pytest.raises(NotPossible, match="must not be weighed"):
        factories.portion(sample, technician, bench)


def test_a_whole_wrong_tin_is_corrected_in_one_entry(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    portion = factories.portion(sample, technician, bench)
    factories.stored(
        "weighing", technician, portion=portion.pk, balance=bench.balance.pk, tin_g="35.00",
        tin_air_dry_g="45.00", tin_oven_dry_g="44.80", reason="Another tin was on the balance.",
    )  # fmt: skip
    masses_g = portion.weighings.filter(attempt=2).values_list("purpose", "mass_g")
    assert {purpose: float(mass_g) for purpose, mass_g in masses_g} == {
        "tin": 35.0,
        "tin air-dry": 45.0,
        "tin oven-dry": 44.8,
    }


def test_what_a_certificate_reports_cannot_be_unlinked(
    measured: Any, technician: Any, qa_officer: Any, manager: Any, work_off: Any
) -> None:
    from particles.models import Laboratory
    from reports.certificates.rules import issue_certificate

    Laboratory.objects.create(pk=1, name="Example", address="1 Lane", contact="-", invented=True)
    work_off()
    signed = approve(measured, technician, qa_officer)
    certificate = issue_certificate(signed.run.sample.job, by=manager, at=timezone.now(), secret=SECRET)
    with pytest.raises(DatabaseError, match="Cannot update or delete"), transaction.atomic():
        certificate.results.clear()


def test_whoever_reviewed_reads_no_more_in_that_batch(
    measured: Any, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    work_off()
    approval.submit(measured, by=technician, at=timezone.now())
    run = measured.sample_runs.get()
    look_at_quality(measured, qa_officer)
    approval.return_to_bench(measured, by=qa_officer, at=timezone.now(), reason="Look at 90 min again.")
    answer = factories.send(
        "reading", qa_officer, run=run.pk, slot_s=5400, state="read", reading="13", elapsed_s=5400,
        temperature_c="20.0", source="paper", reason="Second look.",
    )  # fmt: skip
    assert not answer.stored
    assert "has reviewed flags" in answer.sentence
