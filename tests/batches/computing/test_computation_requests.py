"""A computation that was asked for is done once, whatever becomes of messages and workers."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.computing import rules as computing
from batches.computing.models import HEARTBEAT_LOST_AFTER, MOST_ATTEMPTS, result_in_force
from batches.models import ComputationRequest, Result
from particles.models import Job
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def measured(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    return factories.measured_batch(the_client, clerk, technician, bench)


@pytest.fixture
def asked(measured: Any) -> ComputationRequest:
    return ComputationRequest.objects.get()


def later(seconds: float) -> Any:
    return timezone.now() + timedelta(seconds=seconds)


def test_one_worker_gets_a_request(asked: ComputationRequest) -> None:
    claimed = ComputationRequest.objects.claim(asked.pk, at=timezone.now())
    assert claimed is not None
    assert claimed.attempts == 1
    assert ComputationRequest.objects.claim(asked.pk, at=timezone.now()) is None


def test_working_twice_gives_one_result(asked: ComputationRequest) -> None:
    computing.work(asked.pk, at=timezone.now())
    computing.work(asked.pk, at=timezone.now())
    assert Result.objects.count() == 1
    asked.refresh_from_db()
    assert (asked.state, asked.attempts) == ("done", 1)


def test_asking_again_for_the_same_inputs_asks_once(measured: Any, technician: Any) -> None:
    computing.ask_for_batch(measured, by=technician, at=timezone.now())
    computing.ask_for_batch(measured, by=technician, at=timezone.now())
    assert ComputationRequest.objects.count() == 1


def test_workers_are_notified_again_of_what_has_waited(
    asked: ComputationRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    notified: list[int] = []
    monkeypatch.setattr(computing, "notify_worker", notified.append)
    assert computing.notify_again(at=asked.asked_at + timedelta(seconds=5)) == 0
    assert computing.notify_again(at=asked.asked_at + timedelta(seconds=15)) == 1
    assert notified == [asked.pk]


def test_a_lost_worker_is_asked_for_again(asked: ComputationRequest) -> None:
    ComputationRequest.objects.claim(asked.pk, at=timezone.now())
    assert ComputationRequest.objects.give_up_lost(at=later(10)) == 0
    assert ComputationRequest.objects.give_up_lost(at=later(HEARTBEAT_LOST_AFTER.total_seconds() + 1)) == 1
    computing.work(asked.pk, at=timezone.now())
    asked.refresh_from_db()
    assert (asked.state, asked.attempts, Result.objects.count()) == ("done", 2, 1)


def test_after_five_lost_workers_it_failed_and_says_so(asked: ComputationRequest) -> None:
    moment = timezone.now()
    for _ in range(MOST_ATTEMPTS):
        assert ComputationRequest.objects.claim(asked.pk, at=moment) is not None
        moment += HEARTBEAT_LOST_AFTER + timedelta(seconds=1)
        ComputationRequest.objects.give_up_lost(at=moment)
    asked.refresh_from_db()
    assert asked.state == "failed"
    assert "lost 5 times" in asked.error
    assert ComputationRequest.objects.claim(asked.pk, at=moment) is None


def test_a_worker_that_was_given_up_stores_nothing(asked: ComputationRequest) -> None:
    slow = ComputationRequest.objects.claim(asked.pk, at=timezone.now())
    assert slow is not None
    ComputationRequest.objects.give_up_lost(at=later(HEARTBEAT_LOST_AFTER.total_seconds() + 1))
    computing.work(asked.pk, at=timezone.now())
    computing._store(slow, asked.run, computing.gather(asked.run))
    assert Result.objects.count() == 1


def test_inputs_that_changed_meanwhile_make_a_newer_request(
    measured: Any, asked: ComputationRequest, technician: Any
) -> None:
    typed = {"slot_s": 60, "state": "read", "reading": "23.0", "elapsed_s": 60, "temperature_c": "20.0"}
    factories.stored("reading", technician, run=asked.run.pk, source="paper", reason="Misread.", **typed)
    newer = ComputationRequest.objects.latest("pk")
    assert newer.pk != asked.pk
    computing.work(asked.pk, at=timezone.now())
    asked.refresh_from_db()
    assert "inputs changed" in asked.error
    assert not Result.objects.exists()
    computing.work(newer.pk, at=timezone.now())
    assert Result.objects.get().request_id == newer.pk


def test_an_error_of_the_program_is_kept_with_the_request(
    asked: ComputationRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("a defect")

    monkeypatch.setattr(computing, "compute_distribution", broken)
    with pytest.raises(ZeroDivisionError):
        computing.work(asked.pk, at=timezone.now())
    asked.refresh_from_db()
    assert asked.state == "failed"
    assert "a defect" in asked.error


def test_sand_that_should_have_been_sieved_and_was_not_is_flagged(
    asked: ComputationRequest, measured: Any
) -> None:
    Job.objects.update(sand_by_sieve=True)
    computing.work(asked.pk, at=timezone.now())
    flags = result_in_force(measured.sample_runs.get()).flags
    assert flags.get(code="sieving_asked_for").severity == "warn"
