"""A real worker on a real broker: nothing acknowledged is lost, whatever is killed."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.computing.rules import notify_again
from batches.models import ComputationRequest, Result
from tests.flows.conftest import wait_until
from tests.support import factories

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.worker]


def states() -> list[str]:
    return list(ComputationRequest.objects.order_by("pk").values_list("state", flat=True))


def test_a_worker_computes_what_the_last_reading_completed(
    the_client: Any, clerk: Any, technician: Any, bench: Any, start_worker: Callable[..., Any]
) -> None:
    start_worker()
    factories.measured_batch(the_client, clerk, technician, bench, samples=2)
    wait_until(lambda: states() == ["done", "done"], "two computations")
    assert Result.objects.filter(figures__isnull=False).count() == 2


def test_a_worker_killed_in_mid_computation_loses_nothing(
    the_client: Any, clerk: Any, technician: Any, bench: Any, start_worker: Callable[..., Any]
) -> None:
    slow = start_worker("-I", "tests.support.slow_compute")
    factories.measured_batch(the_client, clerk, technician, bench)
    wait_until(lambda: states() == ["running"], "the slow worker to begin")
    os.killpg(slow.pid, signal.SIGKILL)
    slow.wait()
    assert states() == ["running"]
    assert Result.objects.count() == 0

    start_worker()
    notify_again(at=timezone.now() + timedelta(seconds=71))
    wait_until(lambda: states() == ["done"], "the second worker")
    assert Result.objects.count() == 1
    assert ComputationRequest.objects.get().attempts == 2


def test_a_request_whose_message_was_lost_is_notified_of_again(
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    start_worker: Callable[..., Any],
    monkeypatch: Any,
) -> None:
    with monkeypatch.context() as silent:
        silent.setattr("batches.computing.rules.notify_worker", lambda request_pk: None)
        factories.measured_batch(the_client, clerk, technician, bench)
    assert states() == ["asked"]

    start_worker()
    assert notify_again(at=timezone.now() + timedelta(seconds=11)) == 1
    wait_until(lambda: states() == ["done"], "the request notified of again")
