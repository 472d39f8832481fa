"""What a bench needs to know of a batch, as plain values."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from batches.models import Batch, Reading, Run
from batches.models.batch import OPEN_FOR_READINGS, BatchState
from particles.distribution import HydrometerScale

STEP_OF_SCALE = {HydrometerScale.GRAMS_PER_LITRE: 0.5, HydrometerScale.RELATIVE_DENSITY: 0.0005}
UNIT_OF_SCALE = {HydrometerScale.GRAMS_PER_LITRE: "g/L", HydrometerScale.RELATIVE_DENSITY: "relative density"}


def unit_of(batch: Batch) -> str:
    return UNIT_OF_SCALE[HydrometerScale(batch.hydrometer.scale)]


def state_of(batch: Batch) -> dict[str, Any]:
    runs = (
        batch.runs.select_related("cylinder", "portion__sample", "run_start")
        .prefetch_related("readings__by")
        .order_by("position")
    )
    return {
        "number": batch.number,
        "state": batch.state,
        "may_start": batch.state in (BatchState.DISPERSED, BatchState.RUNNING),
        "may_read": batch.state in OPEN_FOR_READINGS,
        "schedule_s": [int(s) for s in batch.method.edition.schedule_s],
        "unit": unit_of(batch),
        "step": STEP_OF_SCALE[HydrometerScale(batch.hydrometer.scale)],
        "runs": [_run(run) for run in runs],
        # Last, so that it is as young as can be when the answer leaves.
        "now": timezone.now().isoformat(),
    }


def _run(run: Run) -> dict[str, Any]:
    newest: dict[int, Reading] = {}
    for reading in sorted(run.readings.all(), key=lambda r: (r.slot_s, r.attempt)):
        newest[reading.slot_s] = reading
    start = getattr(run, "run_start", None)
    return {
        "pk": run.pk,
        "cylinder": run.cylinder.serial,
        "title": run.title,
        "is_blank": run.is_blank,
        "started_at": None if start is None else start.started_at.isoformat(),
        "readings": {str(slot_s): _reading(reading) for slot_s, reading in newest.items()},
    }


def _reading(reading: Reading) -> dict[str, Any]:
    def text(value: Any) -> str | None:
        return None if value is None else f"{value.normalize():f}"

    return {
        "state": reading.state,
        "reading": text(reading.reading),
        "elapsed_s": text(reading.elapsed_s),
        "temperature_c": text(reading.temperature_c),
        "by": str(reading.by),
    }
