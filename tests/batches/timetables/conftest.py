"""Batches in the room, and a bench day asked for them. All invented."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import BenchDay
from batches.timetables.rules import Asked, ask, in_the_room
from tests.support import factories


def whole_days(at: datetime) -> dict[Any, list[tuple[int, int]]]:
    """Hours of somebody who is always there, for three days."""
    return {timezone.localdate(at) + timedelta(days=n): [(0, 1440)] for n in range(3)}


@pytest.fixture
def asked_day(technician: Any) -> Callable[..., BenchDay]:
    """Ask for a bench day of everything in the room, by the technician alone unless told otherwise."""

    def make(at: datetime | None = None, **other: Any) -> BenchDay:
        at = at or timezone.now()
        given: dict[str, Any] = {
            "batches": in_the_room(),
            "hours": {technician.pk: whole_days(at)},
            "pace": "comfortable",
            "slide_pct": 5.0,
            "first_start_at": at,
            "as_typed": {str(technician.pk): {}},
        }
        return ask(Asked(**(given | other)), by=technician, at=at)

    return make


@pytest.fixture
def started(filled_batch: Any, technician: Any) -> Callable[..., Any]:
    """Start the cylinder of a filled batch at a position, some seconds ago."""

    def start(position: int, seconds_ago: float) -> Any:
        run = filled_batch.runs.get(position=position)
        at = timezone.now()
        moment = at - timedelta(seconds=seconds_ago)
        factories.stored(
            "start", technician, at=at, run=run.pk, started_at=moment.isoformat(), source="tablet"
        )
        return run

    return start
