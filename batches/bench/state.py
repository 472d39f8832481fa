"""The state of the batches at the bench as its page takes it, in plain values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Prefetch
from django.urls import reverse
from django.utils import timezone

from batches.balance.models import Purpose
from batches.bench.blank import standing_blank_readings
from batches.bench.models import COLDEST_C, WARMEST_C, BlankReading, Observation, Reading, Replunge
from batches.bench.rules import current_readings, newest_stirring
from batches.corrections.models import masses_in_force_g
from batches.planning.models import NOTED_IN, OPEN_FOR_READINGS, Batch, BatchState, Run
from batches.readers.choice import asked_slots
from batches.voiding.models import RunVoid, void_of
from particles.distribution import HydrometerScale, Sight
from particles.distribution.advice.expected_reading import whole_reading

STEP_OF_SCALE = {HydrometerScale.GRAMS_PER_LITRE: 0.5, HydrometerScale.RELATIVE_DENSITY: 0.0005}
UNIT_OF_SCALE = {HydrometerScale.GRAMS_PER_LITRE: "g/L", HydrometerScale.RELATIVE_DENSITY: "relative density"}


SIGHTS = [s.value for s in Sight if s is not Sight.SPILL]
"""The one-tap observations; a spill has a button of its own, beside the act that makes the run void."""


def acts() -> dict[str, Any]:
    """Observations and reasons for a void run, as the bench's panels offer them."""
    return {"sights": SIGHTS, "spill": Sight.SPILL.value, "why_void": [why.value for why in RunVoid.Why]}


def unit_of(batch: Batch) -> str:
    """Unit of the readings of a batch, by the scale of its hydrometer."""
    return UNIT_OF_SCALE[HydrometerScale(batch.hydrometer.scale)]


AT_THE_BENCH = (BatchState.RUNNING, BatchState.DISPERSED, BatchState.READINGS_COMPLETE)
"""States of the batches that the bench of the room shows: something is to be started, read or looked at."""


def at_the_bench() -> list[Batch]:
    """Batches that stand at the bench, the oldest first."""
    return list(Batch.objects.filter(state__in=AT_THE_BENCH).select_related(*RELATED).order_by("number"))


RELATED = ("method", "hydrometer", "thermometer")
"""What `state_of` reads of each batch."""


def state_of(batches: Sequence[Batch]) -> dict[str, Any]:
    """The cylinders of these batches with all that is on record of them, ready for JSON; `now` is to be added."""
    runs = (
        Run.objects.filter(batch__in=batches)
        .in_plan()
        .select_related("cylinder", "portion", "run_start__by")
        .prefetch_related(
            "readings__by",
            "second_readings",
            "voids__lifted",
            "replunges__by",
            "portion__weighings",
            "portion__mass_corrections",
            Prefetch("blank_readings", BlankReading.objects.select_related("entry", "by")),
            Prefetch("observations", Observation.objects.select_related("entry", "by", "taken_back_by")),
        )
        .order_by("position")
    )
    by_batch: dict[int, list[Run]] = {batch.pk: [] for batch in batches}
    for run in runs:
        by_batch[run.batch_id].append(run)
    return {"batches": [_batch(batch, by_batch[batch.pk]) for batch in batches]}


def now() -> str:
    """The laboratory's time, taken last, so that it is as young as can be when a response leaves."""
    return timezone.now().isoformat()


def _batch(batch: Batch, runs: Sequence[Run]) -> dict[str, Any]:
    edition = batch.method.edition
    return {
        "number": batch.number,
        "method": str(batch.method),
        "state": batch.state,
        "may_start": batch.state in (BatchState.DISPERSED, BatchState.RUNNING),
        "may_read": batch.state in OPEN_FOR_READINGS,
        "may_note": batch.state in NOTED_IN,
        "schedule_s": [int(s) for s in edition.schedule_s],
        "window_s": [edition.window_s(s) for s in edition.schedule_s],
        "unit": unit_of(batch),
        "step": STEP_OF_SCALE[HydrometerScale(batch.hydrometer.scale)],
        "stem": [float(batch.hydrometer.scale_minimum), float(batch.hydrometer.scale_maximum)],
        "possible_c": [COLDEST_C, WARMEST_C],
        "paper": reverse("batches:paper", args=[batch.number]),
        "runs": [_run(run, batch) for run in runs],
    }


def _run(run: Run, batch: Batch) -> dict[str, Any]:
    start, again = getattr(run, "run_start", None), newest_stirring(run)
    zero, void = again or start, void_of(run)
    return {
        "pk": run.pk,
        "cylinder": run.cylinder.serial,
        "title": run.bench_title,
        "is_blank": run.is_blank,
        "whole": _whole(run, batch),
        "started_at": None if zero is None else zero.started_at.isoformat(),
        "started_by": None if zero is None else str(zero.by),
        "second_slots": _second_slots(run, batch, again),
        "stirred_again": 0 if again is None else again.turn - 1,
        "void": None if void is None else void.in_words,
        "seen": [
            {
                "entry_id": str(each.entry.entry_id),
                "what": each.what,
                "slot_s": each.slot_s,
                "by": str(each.by),
            }
            for each in run.observations.all()
            if each.takes_back_id is None and not hasattr(each, "taken_back_by")
        ],
        "blank_readings": [
            {
                "entry_id": str(each.entry.entry_id),
                "reading": _text(each.reading),
                "temperature_c": _text(each.temperature_c),
                "taken_at": each.taken_at.isoformat(),
                "by": str(each.by),
            }
            for each in standing_blank_readings(run)
        ],
        "readings": {str(reading.slot_s): _reading(reading) for reading in current_readings(run)},
    }


def _whole(run: Run, batch: Batch) -> float | None:
    """What the whole portion adds to a reading, in the unit of the stem; None for a blank or before it is weighed."""
    if run.portion is None:
        return None
    masses = masses_in_force_g(run.portion)
    mass_g = masses.get(Purpose.PRETREATED, masses.get(Purpose.PORTION))
    if mass_g is None:
        return None
    return whole_reading(HydrometerScale(batch.hydrometer.scale), mass_g, float(run.cylinder.volume_ml))


def _second_slots(run: Run, batch: Batch, again: Replunge | None) -> list[int]:
    """Slots that a second person is asked to read too and nobody has yet."""
    zero = None if again is None else again.pk
    done = {each.slot_s for each in run.second_readings.all() if each.replunge_id == zero}
    asked = asked_slots(batch.number, run.cylinder.serial, batch.method.edition.schedule_s)
    return [slot for slot in asked if slot not in done]


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "state": reading.state,
        "reading": _text(reading.reading),
        "elapsed_s": _text(reading.elapsed_s),
        "temperature_c": _text(reading.temperature_c),
        "by": str(reading.by),
    }


def _text(value: Any) -> str | None:
    return None if value is None else f"{value.normalize():f}"
