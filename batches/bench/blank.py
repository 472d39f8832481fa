"""Rules for the readings of the blank between the times of the schedule, and which of them stand."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from batches.bench.instruments import require_fit
from batches.bench.models import BlankReading
from batches.bench.rules import (
    OpenCylinder,
    open_bench,
    require_on_stem,
    require_past,
    require_possible_temperature,
)
from batches.planning.models import OPEN_FOR_READINGS, Run
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import NotPossible, WrongState


def standing_blank_readings(run: Run) -> list[BlankReading]:
    """Readings of the blank in between that were not taken back, in order of time."""
    rows = [each for each in run.blank_readings.all() if each.takes_back_id is None]
    back = {each.takes_back_id for each in run.blank_readings.all()}
    return sorted((each for each in rows if each.pk not in back), key=lambda each: (each.taken_at, each.pk))


def record_blank_reading(
    run: Run,
    *,
    reading: Decimal | None,
    temperature_c: Decimal | None,
    taken_at: datetime,
    note: str,
    source: str,
    takes_back: BlankReading | None,
    entry: Any,
    by: Person,
    at: datetime,
) -> bool:
    """Store one more reading of the blank, or take an earlier one back; whether a run may be complete or changed."""
    cylinder = open_bench(run, "no readings are taken", states=OPEN_FOR_READINGS, by=by)
    batch = cylinder.batch
    serial = run.cylinder.serial
    if not run.is_blank:
        raise NotPossible(f"Cylinder {serial} holds {run.title}: only the blank is read between the times.")
    require_past(taken_at, at)
    if takes_back is not None:
        _require_takable(takes_back, run)
    else:
        _require_readable(cylinder, reading, temperature_c, taken_at)
        require_fit(cylinder.instruments, cylinder.serial, taken_at, "is read once more")
        assert reading is not None
        require_on_stem(batch.hydrometer, reading)
    BlankReading.objects.create(
        run=run,
        reading=reading,
        temperature_c=temperature_c,
        taken_at=taken_at,
        note=note,
        source=source,
        takes_back=takes_back,
        hydrometer_id=batch.hydrometer_id,
        thermometer_id=batch.thermometer_id,
        entry=entry,
        **done(by, at),
    )
    return not cylinder.leaves_open()


def _require_readable(
    cylinder: OpenCylinder, reading: Decimal | None, temperature_c: Decimal | None, taken_at: datetime
) -> None:
    started_at = cylinder.first_started_at
    if started_at is None or taken_at < started_at:
        raise WrongState(f"The blank in cylinder {cylinder.serial} was not started then: stir it first.")
    if reading is None or temperature_c is None:
        raise NotPossible("A reading of the blank needs its reading and its temperature.")
    require_possible_temperature(temperature_c)


def _require_takable(earlier: BlankReading, run: Run) -> None:
    if earlier.run_id != run.pk or earlier.takes_back_id is not None:
        raise NotPossible("That is no reading of this blank that could be taken back.")
    if hasattr(earlier, "taken_back_by"):
        raise NotPossible(f"This reading was taken back already, by {earlier.taken_back_by.by}.")
