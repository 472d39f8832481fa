"""Time zero of a cylinder."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import RunStart
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def start(run: Any, at: Any) -> dict[str, str]:
    return {"run": str(run.pk), "started_at": at.isoformat(timespec="milliseconds"), "source": "tablet"}


def test_the_first_start_runs_the_batch(filled_batch: Any, send_entry: Any) -> None:
    now = timezone.now()
    assert send_entry("start", start(filled_batch.blank, now)).status_code == 201
    filled_batch.refresh_from_db()
    assert filled_batch.state == "running"
    assert abs(RunStart.objects.get().started_at - now) < timedelta(milliseconds=1)


def test_a_second_start_is_refused_and_the_first_stays(filled_batch: Any, send_entry: Any) -> None:
    first = timezone.now() - timedelta(minutes=2)
    send_entry("start", start(filled_batch.blank, first))
    answer = send_entry("start", start(filled_batch.blank, timezone.now()))
    assert answer.status_code == 409
    assert "the first start stays" in answer.json()["sentence"]
    assert RunStart.objects.count() == 1


def test_nothing_starts_in_the_future_or_before_filling(filled_batch: Any, send_entry: Any) -> None:
    late = send_entry("start", start(filled_batch.blank, timezone.now() + timedelta(minutes=5)))
    early = send_entry("start", start(filled_batch.blank, timezone.now() - timedelta(days=30)))
    assert (late.status_code, early.status_code) == (409, 409)
    assert "after the laboratory's clock" in late.json()["sentence"]
    assert "before the cylinders were filled" in early.json()["sentence"]


def test_nothing_starts_before_mixing(
    the_client: Any, clerk: Any, technician: Any, bench: Any, send_entry: Any
) -> None:
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    portion = factories.portion(sample, technician, bench)
    planned = factories.batch([portion], technician, bench, at=timezone.now(), filled=False)
    answer = send_entry("start", start(planned.blank, timezone.now()))
    assert answer.status_code == 409
    assert "after mixing and filling" in answer.json()["sentence"]


def test_the_state_of_the_bench_tells_starts_and_readings(
    running: Any, send_entry: Any, a_reading: Any, as_person: Any, technician: Any, clerk: Any
) -> None:
    send_entry("reading", a_reading(running))
    address = f"/batches/{running.batch.number}/bench/state/"
    [told] = as_person(technician).get(address).json()["batches"]
    own = next(run for run in told["runs"] if run["pk"] == running.pk)
    assert own["started_at"]
    assert own["readings"]["30"]["reading"] == "26.5"
    assert [run["is_blank"] for run in told["runs"]] == [True, False, False]
    for refused in (address, "/bench/", "/bench/state/"):
        assert as_person(clerk).get(refused).status_code == 403
