"""Rows of what was observed and done at the cylinders beside readings, for the pages of a run and of a review."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from batches.bench.models import Observation, Reading, Replunge
from batches.voiding.models import RunVoid
from particles.records.person import Person


@dataclass(frozen=True)
class SeenRow:
    """One observation or stirring at a cylinder, with what became of it."""

    cylinder: str
    title: str
    what: str
    slot_s: int | None
    note: str
    taken_back: str
    """By whom and why; '' while it stands."""
    by: Person
    at: datetime
    """When it was seen or done, not when it arrived."""


def seen_context(where: Q) -> dict[str, Any]:
    """Template context of observations, stirrings and voids; `where` narrows rows that have a `run`."""
    voids = RunVoid.objects.filter(where).select_related(
        "run__cylinder", "run__portion__sample", "by", "lifted__by"
    )
    return {
        "seen": sorted(_observed(where) + _stirred(where), key=lambda row: row.at),
        "voids": list(voids),
        "doubtful_times": list(
            Reading.objects.filter(where, time_doubt__isnull=False)
            .select_related("run__cylinder", "run__portion__sample", "by")
            .order_by("run__position", "slot_s", "attempt")
        ),
    }


def _observed(where: Q) -> list[SeenRow]:
    found = Observation.objects.filter(where, takes_back__isnull=True).select_related(
        "run__cylinder", "run__portion__sample", "by", "taken_back_by__by"
    )
    return [observed_row(each) for each in found]


def _stirred(where: Q) -> list[SeenRow]:
    found = Replunge.objects.filter(where).select_related("run__cylinder", "run__portion__sample", "by")
    return [stirred_row(each) for each in found]


def observed_row(each: Observation) -> SeenRow:
    """The row of one observation that takes none back."""
    return _row(each, str(each.what), each.slot_s, each.note, each.seen_at)


def stirred_row(each: Replunge) -> SeenRow:
    """The row of one second stirring."""
    what = "stirred again: time zero anew, what was read before is void"
    return _row(each, what, None, each.reason, each.started_at)


def _row(row: Any, what: str, slot_s: int | None, note: str, at: datetime) -> SeenRow:
    back = getattr(row, "taken_back_by", None)
    taken_back = "" if back is None else f"taken back by {back.by}: {back.note}"
    return SeenRow(row.run.cylinder.serial, row.run.title, what, slot_s, note, taken_back, row.by, at)
