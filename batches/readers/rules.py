"""Rules for second readings: who may take one, when, and what becomes of two people who read the same slot."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from batches.bench.models import Reading
from batches.bench.rules import (
    current_readings,
    newest_stirring,
    open_bench,
    record_reading,
    require_on_stem,
    require_readable,
)
from batches.planning.models import OPEN_FOR_READINGS, Run
from batches.readers.choice import WITHIN_S
from batches.readers.models import SecondReading
from particles.distribution import ReadingState
from particles.distribution.spoken import spoken_time
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson


def record_second(
    run: Run,
    *,
    slot_s: int,
    reading: Decimal,
    elapsed_s: Decimal,
    source: str,
    entry: Any,
    by: Person,
    at: datetime,
    counted_from: datetime | None = None,
) -> SecondReading:
    """Keep a second reading beside the one that counts, or before it; the value that counts stays."""
    cylinder = open_bench(run, "no second readings are taken", states=OPEN_FOR_READINGS, by=by)
    if slot_s not in cylinder.slots:
        raise NotPossible(f"{spoken_time(slot_s)} is not a time of “{cylinder.batch.method}”.")
    taken_at = require_readable(cylinder, float(elapsed_s), at, counted_from)
    require_on_stem(cylinder.batch.hydrometer, reading)
    _require_another_look(run, slot_s, elapsed_s, by)
    return SecondReading.objects.create(
        run=run,
        replunge=newest_stirring(run),
        slot_s=slot_s,
        reading=reading,
        elapsed_s=elapsed_s,
        taken_at=taken_at,
        source=source,
        entry=entry,
        **done(by, at),
    )


def _require_another_look(run: Run, slot_s: int, elapsed_s: Decimal, by: Person) -> None:
    serial, zero = run.cylinder.serial, newest_stirring(run)
    if Reading.objects.filter(run=run, replunge=zero, slot_s=slot_s, by=by.pk).exists():
        raise NotThisPerson(
            f"{by} took the {spoken_time(slot_s)} reading of cylinder {serial}: its second reader is somebody else."
        )
    if SecondReading.objects.filter(run=run, replunge=zero, slot_s=slot_s, by=by.pk).exists():
        raise AlreadyThere(
            f"{by} has read cylinder {serial} a second time at {spoken_time(slot_s)} already; both stay."
        )
    first = _counting(run, slot_s)
    if first is not None and first.elapsed_s is not None and not _within(first, elapsed_s):
        raise NotPossible(
            f"The {spoken_time(slot_s)} reading of cylinder {serial} was taken at {first.elapsed_s} s, this one at "
            f"{elapsed_s} s: more than {WITHIN_S:g} s apart the soil has moved, and two people are not compared."
        )


def _counting(run: Run, slot_s: int) -> Reading | None:
    return next((each for each in current_readings(run) if each.slot_s == slot_s), None)


def _within(first: Reading, elapsed_s: Decimal) -> bool:
    return first.elapsed_s is not None and abs(float(first.elapsed_s - elapsed_s)) <= WITHIN_S


def record_first_or_second(run: Run, *, by: Person, **typed: Any) -> tuple[str | None, bool]:
    """
    Store a reading; where another person's stands already for the slot, seconds apart, keep it beside that one.

    The first complete one counts, whoever took it. Returns what is said of a second one, or of an instrument that
    was overdue or withdrawn, and whether a run may be complete by what was stored.
    """
    try:
        unfit, completes = record_reading(run, by=by, **typed)
    except AlreadyThere:
        first = _counting(run, typed["slot_s"])
        if first is None or not _is_second_look(first, by, typed):
            raise
        of_second = ("slot_s", "reading", "elapsed_s", "source", "entry", "at", "counted_from")
        record_second(run, by=by, **{name: typed[name] for name in of_second})
        return (
            f"Kept as a second reading: that of {first.by}, {first.in_words}, came first and counts. "
            f"The two are compared.",
            True,
        )
    return (f"Kept, and the reviewer is told: {unfit}." if unfit else None), completes


def _is_second_look(first: Reading, by: Person, typed: dict[str, Any]) -> bool:
    """Whether a refused reading is another person's look at the same slot, and no correction without its reason."""
    return (
        first.by_id != by.pk
        and first.reading is not None
        and typed["state"] == ReadingState.READ
        and not typed["reason"]
        and typed["reading"] is not None
        and typed["elapsed_s"] is not None
        and _within(first, typed["elapsed_s"])
    )
