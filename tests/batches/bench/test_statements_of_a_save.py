"""A reading waits for few statements, however many checks it passes, and for no more in a larger batch."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from batches.bench import rules
from batches.models import BlankReading, ComputationRequest, Reading
from tests.support import factories
from tests.support.saved_by import MOST_FOR_A_READING, listed, statements_of

pytestmark = pytest.mark.django_db(transaction=True)

Saved = Callable[..., tuple[Any, list[str]]]


@pytest.fixture
def saved(as_person: Any, technician: Any) -> Saved:
    """Send one entry as the technician's tablet does, and count what it asks."""
    tablet = as_person(technician)

    def send(kind: str, content: dict[str, str], entry_id: str = "") -> tuple[Any, list[str]]:
        return statements_of(tablet, {"entry_id": entry_id or str(uuid4()), "kind": kind, "content": content})

    return send


@pytest.fixture
def blank(running: Any, technician: Any) -> Any:
    """The blank of the running batch, started with the first sample's cylinder."""
    found = running.batch.blank
    started_at = timezone.now() - timedelta(days=2)
    factories.stored("start", technician, run=found.pk, started_at=started_at.isoformat(), source="paper")
    return found


def test_a_reading_takes_at_most_twelve_statements(running: Any, saved: Saved, a_reading: Any) -> None:
    saved("reading", a_reading(running))
    response, statements = saved("reading", a_reading(running, slot_s=60, elapsed_s="60.2", reading="23.5"))
    assert response.status_code == 201
    assert len(statements) <= MOST_FOR_A_READING, listed(statements)
    assert Reading.objects.count() == 2


def test_one_query_more_would_be_seen(
    running: Any, saved: Saved, a_reading: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked = rules.require_possible_temperature

    def asks_once_more(temperature_c: Any) -> None:
        Reading.objects.filter(run=running).exists()
        checked(temperature_c)

    monkeypatch.setattr(rules, "require_possible_temperature", asks_once_more)
    response, statements = saved("reading", a_reading(running))
    assert response.status_code == 201
    assert len(statements) == MOST_FOR_A_READING + 1, listed(statements)


def test_the_first_reading_of_a_process_reads_method_and_hydrometer_too(
    running: Any, saved: Saved, a_reading: Any
) -> None:
    from batches.equipment.models import HydrometerRecord
    from particles.models import MethodEditionRecord

    MethodEditionRecord.known.cache_clear()
    HydrometerRecord.calibrated.cache_clear()
    response, statements = saved("reading", a_reading(running))
    assert response.status_code == 201
    assert len(statements) == MOST_FOR_A_READING + 2, listed(statements)


def test_a_correction_and_a_reading_after_a_second_stirring_take_no_more(
    running: Any, saved: Saved, a_reading: Any, technician: Any
) -> None:
    saved("reading", a_reading(running))
    _, statements = saved("reading", a_reading(running, reading="25.5", reason="Digits transposed."))
    assert len(statements) <= MOST_FOR_A_READING, listed(statements)
    again_at = timezone.now() - timedelta(days=1, hours=12)
    factories.stored(
        "replunge", technician, run=running.pk, started_at=again_at.isoformat(), voids=1, source="tablet",
        reason="A fly fell in.",
    )  # fmt: skip
    response, statements = saved("reading", a_reading(running))
    assert response.status_code == 201
    assert len(statements) <= MOST_FOR_A_READING, listed(statements)
    assert [r.attempt for r in Reading.objects.order_by("pk")] == [1, 2, 1]


def test_a_reading_of_the_blank_takes_no_more_at_its_slots_and_between_them(
    blank: Any, saved: Saved, a_reading: Any
) -> None:
    response, statements = saved("reading", a_reading(blank, reading="4.5"))
    assert response.status_code == 201
    assert len(statements) <= MOST_FOR_A_READING, listed(statements)
    taken_at = (timezone.now() - timedelta(days=1)).isoformat()
    between = {"run": str(blank.pk), "reading": "4.5", "temperature_c": "20.1", "taken_at": taken_at}
    response, statements = saved("blank reading", between | {"source": "tablet"})
    assert response.status_code == 201, response.content
    assert len(statements) <= MOST_FOR_A_READING, listed(statements)
    assert BlankReading.objects.count() == 1


def test_a_repeated_delivery_asks_less_and_a_refusal_little_more(
    running: Any, saved: Saved, a_reading: Any
) -> None:
    name = str(uuid4())
    saved("reading", a_reading(running), name)
    response, statements = saved("reading", a_reading(running), name)
    assert response.json()["repeated"] is True
    assert len(statements) <= 8, listed(statements)
    response, statements = saved("reading", a_reading(running, reading="28.0"))
    assert response.status_code == 409
    assert len(statements) <= 18, listed(statements)


@pytest.mark.parametrize("samples", [1, 3])
def test_the_last_reading_of_a_blank_asks_for_each_run_and_little_else(
    samples: int, the_client: Any, clerk: Any, technician: Any, bench: Any, saved: Saved, a_reading: Any
) -> None:
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=4), samples=samples)
    portions = [
        factories.portion(factories.prepared(s, technician, at=now - timedelta(days=4)), technician, bench)
        for s in job.samples.all()
    ]
    batch = factories.batch(portions, technician, bench, at=now - timedelta(days=3))
    started_at = now - timedelta(days=2)
    for run in batch.sample_runs:
        factories.read_run(run, technician, factories.LOAM_G_L, started_at=started_at)
    all_but_the_last = {s: v for s, v in factories.BLANK_G_L.items() if s != 86400}
    factories.read_run(batch.blank, technician, all_but_the_last, started_at=started_at)
    assert not ComputationRequest.objects.exists()
    last = a_reading(batch.blank, slot_s=86400, elapsed_s="86400", reading="4.5")
    response, statements = saved("reading", last)
    assert response.status_code == 201
    assert ComputationRequest.objects.count() == samples
    assert len(statements) <= 40 + 30 * samples, listed(statements)
    batch.refresh_from_db()
    assert batch.state == "readings complete"
