"""Several people, tablets and workers at the same moment: nothing lost, nothing twice, nobody stuck."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from batches.computing.rules import work
from batches.entries.door import Response, receive
from batches.models import ComputationRequest, Entry, Reading, Result
from labsite.audit.chain import verify_chain
from tests.support import factories
from tests.support.at_once import together

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def started(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    """A batch of four loams and their blank, all started two days ago, nothing read yet."""
    now = timezone.now()
    received_at = now - timedelta(days=5)
    job = factories.job(the_client, clerk, at=received_at, samples=4)
    portions = [
        factories.portion(factories.prepared(s, technician, at=received_at), technician, bench)
        for s in job.samples.all()
    ]
    batch = factories.batch(portions, technician, bench, at=now - timedelta(days=3))
    for run in batch.runs.all():
        started_at = (now - timedelta(days=2)).isoformat()
        factories.stored("start", technician, run=run.pk, started_at=started_at, source="paper")
    return batch


def reading(run: Any, slot_s: int, value: str) -> dict[str, str]:
    return {
        "run": str(run.pk),
        "slot_s": str(slot_s),
        "state": "read",
        "reading": value,
        "elapsed_s": str(slot_s),
        "temperature_c": "20.0",
        "source": "tablet",
    }


def test_one_entry_sent_eight_times_at_once_is_stored_once(started: Any, technician: Any) -> None:
    name, content = uuid4(), reading(started.sample_runs[0], 30, "26.5")
    answers: list[Response] = together(
        [lambda: receive(name, "reading", content, by=technician, at=timezone.now())] * 8
    )
    assert all(a.stored for a in answers)
    assert sorted(a.repeated for a in answers) == [False] + [True] * 7
    assert (Reading.objects.count(), Entry.objects.filter(kind="reading").count()) == (1, 1)


def test_eight_readings_of_one_slot_leave_one_reading_and_eight_entries(
    started: Any, technician: Any
) -> None:
    run = started.sample_runs[0]
    tasks = [
        lambda n=n: receive(uuid4(), "reading", reading(run, 30, f"2{n}.5"), by=technician, at=timezone.now())
        for n in range(8)
    ]
    answers = together(tasks)
    assert [a.stored for a in answers].count(True) == 1
    assert all("has a reading for this time already" in a.sentence for a in answers if not a.stored)
    assert (Reading.objects.count(), Entry.objects.filter(kind="reading").count()) == (1, 8)


def test_readings_and_workers_at_once_do_not_lock_each_other_out(started: Any, technician: Any) -> None:
    def read(run: Any) -> None:
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        for slot_s, value in values.items():
            answer = receive(
                uuid4(), "reading", reading(run, slot_s, value), by=technician, at=timezone.now()
            )
            assert answer.stored, answer.sentence
            for pk in ComputationRequest.objects.filter(state="asked").values_list("pk", flat=True):
                work(pk, at=timezone.now())

    together([lambda run=run: read(run) for run in started.runs.all()])
    for pk in ComputationRequest.objects.filter(state="asked").values_list("pk", flat=True):
        work(pk, at=timezone.now())
    assert Reading.objects.count() == 20
    assert Result.objects.filter(certifiable=True).count() == 4
    assert set(ComputationRequest.objects.values_list("state", flat=True)) == {"done"}
    assert verify_chain()[1] == []
