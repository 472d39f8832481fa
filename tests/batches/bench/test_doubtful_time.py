"""A reading whose time comes from a clock that nothing proves: kept, marked, flagged."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from batches.bench.rules import current_readings
from batches.computing.models import result_in_force
from batches.models import Entry, Reading
from batches.review import rules as approval
from tests.support import factories

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


def test_how_far_the_clock_was_off_may_be_unknown_and_then_says_so(
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    work_off: Any,
    send_entry: Any,
    a_reading: Any,
    as_person: Any,
) -> None:
    run = factories.measured_batch(the_client, clerk, technician, bench).sample_runs.get()
    answer = send_entry(
        "reading", a_reading(run, reason="Read again.", time_doubt="restarted", time_doubt_s="")
    )
    assert answer.status_code == 201, answer.json()
    kept = current_readings(run)[0]
    assert (kept.time_doubt, kept.time_doubt_s) == ("restarted", None)
    work_off()
    flag = result_in_force(run).flags.get(code="time_doubtful")
    assert flag.sentence.endswith("How far it was off is unknown, so the interval does not hold it.")
    assert (flag.severity, flag.number, flag.unit) == ("warn", None, "")
    page = as_person(technician).get(f"/runs/{run.pk}/").content.decode()
    assert "time doubtful, how far the clock was off is unknown (the tablet was restarted" in page
    assert "0.0 s off" not in page


def test_a_correction_with_a_proven_time_takes_the_doubt_away(
    running: Any, send_entry: Any, a_reading: Any
) -> None:
    send_entry("reading", a_reading(running, time_doubt="slept", time_doubt_s="-12.5"))
    send_entry("reading", a_reading(running, reason="Time from the wall clock's notes."))
    assert [r.time_doubt for r in current_readings(running)] == [None]
    assert Reading.objects.filter(time_doubt="slept").count() == 1


@pytest.mark.parametrize(
    "typed",
    [
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
    entry = Entry.keep(uuid4(), "reading", {}, by=row.by, at=row.at)
    row.pk, row.attempt, row.reason, row.time_doubt_s, row.entry = None, 2, "why", 5, entry
    with pytest.raises(IntegrityError, match="a_doubtful_time_says_why"), transaction.atomic():
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
    flag = result_in_force(run).flags.get(code="time_doubtful")
    assert (flag.severity, flag.number) == ("warn", -7.5)
    assert flag.needs_review
