"""Second readings beside those that count, as the pages of a run and of the readers show them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from batches.bench.models import Reading
from batches.planning.models import Batch, Run
from batches.readers.choice import FROM_S, LIMIT_G_L, WITHIN_S, asked_slots
from batches.readers.differences import Comparison
from batches.readers.models import SecondReading, first_of
from particles.distribution import HydrometerScale

G_L_PER_RELATIVE_DENSITY = 1000 * 2.65 / 1.65
"""Soil of 2.65 g/cm³ that raises the relative density of water by one. [g/L]"""
BATCHES_SHOWN = 20


@dataclass(frozen=True)
class SecondRow:
    """One second reading with the one it is compared with, and the difference of the two."""

    second: SecondReading
    first: Reading | None

    @property
    def difference_g_l(self) -> float | None:
        """Second less first; None while there is nothing to compare. [g/L]"""
        if self.first is None or self.first.reading is None:
            return None
        difference = float(self.second.reading - self.first.reading)
        scale = self.second.run.batch.hydrometer.scale
        return difference * (G_L_PER_RELATIVE_DENSITY if scale == HydrometerScale.RELATIVE_DENSITY else 1.0)

    @property
    def why_not(self) -> str:
        """Why the two are not compared; '' when they are."""
        if self.first is None or self.first.elapsed_s is None:
            return "no first reading of another person that still counts"
        if abs(float(self.first.elapsed_s - self.second.elapsed_s)) > WITHIN_S:
            return f"more than {WITHIN_S:g} s apart"
        if self.second.slot_s < FROM_S:
            return f"before {FROM_S // 60} min the soil itself falls too fast"
        return ""

    @property
    def is_beyond(self) -> bool:
        """Whether the two people differ by more than they may."""
        return self.difference_g_l is not None and not self.why_not and abs(self.difference_g_l) > LIMIT_G_L


def seconds_of(run: Run) -> list[SecondRow]:
    """Second readings of one run, each beside the reading that counts."""
    return _rows(SecondReading.objects.filter(run=run))


def seconds_since(since: datetime) -> list[SecondRow]:
    """Second readings of the laboratory, the newest first."""
    return _rows(SecondReading.objects.filter(taken_at__gte=since).order_by("-taken_at", "-pk"))


def _rows(seconds: Any) -> list[SecondRow]:
    found: Iterable[SecondReading] = seconds.select_related(
        "by", "run__cylinder", "run__portion__sample", "run__batch__hydrometer"
    ).prefetch_related("run__readings__by")
    return [SecondRow(second, first_of(second)) for second in found]


def comparisons(rows: Iterable[SecondRow]) -> list[Comparison]:
    """The rows that compare two people, as plain values."""
    return [
        Comparison(str(row.first.by), str(row.second.by), row.difference_g_l)
        for row in rows
        if row.first is not None and row.difference_g_l is not None and not row.why_not
    ]


@dataclass(frozen=True)
class AskedRow:
    """How many second readings the program asked for in a batch, and how many of those were taken."""

    batch: Batch
    asked: int
    taken: int


def asked_rows() -> list[AskedRow]:
    """The newest batches that were read at all."""
    batches = (
        Batch.objects.filter(runs__readings__isnull=False)
        .distinct()
        .select_related("method")
        .prefetch_related("runs__cylinder", "runs__second_readings", "runs__taken_out")
        .order_by("-planned_at")[:BATCHES_SHOWN]
    )
    return [_asked_row(batch) for batch in batches]


def _asked_row(batch: Batch) -> AskedRow:
    schedule_s = batch.method.edition.schedule_s
    asked = {
        (run.pk, slot)
        for run in batch.runs.all()
        if not hasattr(run, "taken_out")
        for slot in asked_slots(batch.number, run.cylinder.serial, schedule_s)
    }
    taken = {
        (second.run_id, second.slot_s) for run in batch.runs.all() for second in run.second_readings.all()
    }
    return AskedRow(batch, len(asked), len(asked & taken))
