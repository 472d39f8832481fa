"""A reading whose time comes from a clock that nothing proves: kept, marked, flagged."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from batches import approval
from batches.models import Reading
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)


def test_it_is_kept_with_why_and_how_much(
    running: Any, send_entry: Any, a_reading: Any, as_person: Any, technician: Any
) -> None:
    answer = send_entry("reading", a_reading(running, time_doubt="restarted", time_doubt_s="3600.0"))
    assert answer.status_code == 201
    kept = Reading.objects.get()
    assert (kept.time_doubt, kept.time_doubt_s) == ("restarted", Decimal("3600.0"))
    page = as_person(technician).get(f"/runs/{running.pk}/").content.decode()
    assert "time doubtful, the clock was 3600.0 s off" in page


def test_a_correction_with_a_proven_time_takes_the_doubt_away(
    running: Any, send_entry: Any, a_reading: Any
) -> None:
    send_entry("reading", a_reading(running, time_doubt="slept", time_doubt_s="-12.5"))
    send_entry("reading", a_reading(running, reason="Time from the wall clock's notes."))
    assert [r.time_doubt for r in running.current_readings] == [None]
    assert Reading.objects.filter(time_doubt="slept").count() == 1


@pytest.mark.parametrize(
    "typed",
    [
        {"time_doubt": "restarted"},
        {"time_doubt_s": "5"},
        {"time_doubt": "moonlight", "time_doubt_s": "5"},
        {"time_doubt": "slept", "time_doubt_s": "much"},
    ],
)
def test_half_a_doubt_is_refused(
    running: Any, send_entry: Any, a_reading: Any, typed: dict[str, str]
) -> None:
    assert send_entry("reading", a_reading(running, **typed)).status_code == 422
    assert not Reading.objects.exists()


def test_the_database_refuses_half_a_doubt(running: Any, send_entry: Any, a_reading: Any) -> None:
    send_entry("reading", a_reading(running))
    row = Reading.objects.get()
    row.pk, row.attempt, row.reason, row.time_doubt, row.entry_id = None, 2, "why", "slept", None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_the_review_shows_it_as_a_warning(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, send_entry: Any, a_reading: Any
) -> None:
    made = factories.measured_batch(the_client, clerk, technician, bench)
    run = made.sample_runs.get()
    answer = send_entry(
        "reading", a_reading(run, reason="Read again.", time_doubt="restarted", time_doubt_s="-7.5")
    )
    assert answer.status_code == 201, answer.json()
    work_off()
    approval.submit(made, by=technician, at=timezone.now())
    flag = run.result.flags.get(code="time_doubtful")
    assert (flag.severity, flag.number) == ("warn", -7.5)
    assert flag.needs_review
