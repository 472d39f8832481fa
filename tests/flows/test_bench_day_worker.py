"""Better timetables by a real worker: they come while somebody looks, and a killed worker is told."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from batches.models import BenchDay
from batches.planning.timetable import Day, Person, Rack, Slide, first_timetable
from batches.timetables import rules
from batches.timetables.models import LOST_AFTER
from batches.timetables.plain import day_to_plain
from tests.flows.conftest import wait_until

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.worker]
NINE = (30, 60, 180, 600, 1800, 3600, 5400, 7200, 86_400)


@pytest.fixture
def long_day(technician: Any) -> BenchDay:
    """A day of 16 cylinders with nine readings, which is sought for as long as a search lasts."""
    rack = Rack("B26-0001", tuple(f"C{n:02}" for n in range(1, 17)), NINE)
    day, now = Day((Person(str(technician.pk)),), (rack,), slide=Slide(5.0)), timezone.now()
    row = BenchDay.objects.create(
        asked_by=technician, asked_at=now, origin_at=now, asked=day_to_plain(day, "comfortable"), hours={},
        search_asked_at=now,
    )  # fmt: skip
    rules._store(row, first_timetable(day), at=now)
    return row


def test_better_ones_come_one_by_one_and_a_killed_worker_is_told_and_started_again(
    long_day: BenchDay, start_worker: Callable[..., Any]
) -> None:
    worker = start_worker()
    rules.notify_worker(long_day.pk)
    wait_until(lambda: long_day.found.count() >= 2, "a better timetable")
    long_day.refresh_from_db()
    assert long_day.state == "running"
    assert (long_day.best.last_start_s or 0) < (long_day.found.get(turn=1).last_start_s or 0)
    os.killpg(worker.pid, signal.SIGKILL)
    worker.wait()
    long_day.refresh_from_db()
    assert long_day.state == "running", "nobody was left to say otherwise"
    assert not long_day.is_lost(timezone.now())
    later = timezone.now() + LOST_AFTER
    assert long_day.is_lost(later)

    start_worker()
    rules.search_again(long_day, at=later)
    wait_until(lambda: BenchDay.objects.get().attempts == 2, "the second worker")
    wait_until(lambda: BenchDay.objects.get().state == "done", "the end of the search")
    turns = [found.last_start_s for found in long_day.found.order_by("turn")]
    assert turns == sorted(turns, reverse=True), "each is at least as good as the one before"
