"""What a cause proposes to put right: the form it fills, and each value on record beside what would take its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from batches.balance.models import Purpose
from batches.bench.rules import current_readings
from batches.causes.kept import causes_in_force
from batches.corrections.models import masses_in_force_g
from batches.exchanging.forms import ALONE, EVERYTHING, FROM_ON
from batches.planning.models import Batch, Run
from batches.review.examination import ExaminedRun, examine
from batches.templatetags.plain_figures import slot
from particles.distribution.causes.cause import Cause, Remedy
from particles.distribution.record import ReadingPoint

GONE = "That cause is not found any more: what is recorded has changed. Nothing is filled in."
BY_NO_FORM = (
    "No form here puts that right. Return the batch to the bench, where a value is corrected or read again with its "
    "reason, or decide on the cause."
)
BLANK_STAYS = "A blank is not shifted here; with these readings of it left out, its others serve every run."


@dataclass(frozen=True)
class Proposal:
    """One form filled as a cause proposes; what is on record stands beside what would take its place."""

    key: str
    sentence: str
    """The cause, or why nothing is filled in."""
    form: str = ""
    """`exchange`, `leave_out` or `mass`; '' where no form puts the cause right."""
    initial: dict[str, Any] = field(default_factory=dict)
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    """What is changed, then on record and proposed; of an exchange, one column for each cylinder."""
    hint: str = ""


def proposal_of(batch: Batch, key: str, *, at: datetime) -> Proposal | None:
    """What the cause of this key proposes; None without a key."""
    if not key:
        return None
    runs = examine(batch)
    causes = causes_in_force(batch, runs, at=at).causes
    cause = next((each.cause for each in causes if each.cause.key == key), None)
    if cause is None:
        return Proposal("", GONE)
    return proposed_by(cause, {each.run.title: each for each in runs}, batch)


def proposed_by(cause: Cause, runs: Mapping[str, ExaminedRun], batch: Batch) -> Proposal:
    """The form that a cause fills, by its remedy."""
    found = [runs[label] for label in cause.labels if label in runs]
    filled: dict[str, Any] = {}
    if cause.remedy is Remedy.EXCHANGE and len(found) == 2:
        filled = _exchange(cause, found[0], found[1], batch)
    elif cause.remedy is Remedy.MASS and cause.mass_g is not None and found:
        filled = _mass(cause.mass_g, found[0].run)
    elif cause.remedy is Remedy.LEAVE_OUT and cause.slots and found:
        filled = _left_out(cause, found[0].run, found[0].record.readings, batch)
    elif cause.remedy is Remedy.BLANK and _some_stay(cause, found):
        filled = _left_out(cause, batch.blank, (), batch) | {"hint": BLANK_STAYS}
    return Proposal(cause.key, cause.sentence, **(filled or {"hint": BY_NO_FORM}))


def _some_stay(cause: Cause, found: Sequence[ExaminedRun]) -> bool:
    return bool(found) and 0 < len(cause.slots) < len(found[0].record.readings)


def _schedule(batch: Batch) -> list[int]:
    return [int(s) for s in batch.method.edition.schedule_s]


def _exchange(cause: Cause, one: ExaminedRun, other: ExaminedRun, batch: Batch) -> dict[str, Any]:
    times_s = _schedule(batch)
    whole = len(cause.slots) == len(times_s)
    part = EVERYTHING if whole else ALONE if len(cause.slots) == 1 else FROM_ON
    initial = {"first": one.run.pk, "second": other.run.pk, "part": part}
    initial["with_sieve_masses"] = cause.with_sieves
    if not whole:
        initial["slot_s"] = times_s[cause.slots[0]]
    mine, theirs = one.record.readings, other.record.readings
    return {
        "form": "exchange",
        "initial": initial,
        "headings": ("Time", *(f"{each.run.cylinder.serial}: {each.run.title}" for each in (one, other))),
        "rows": tuple(
            (
                slot(times_s[k]),
                f"{_reading(mine[k])} → {_reading(theirs[k])}",
                f"{_reading(theirs[k])} → {_reading(mine[k])}",
            )
            for k in cause.slots
        ),
    }


def _left_out(cause: Cause, run: Run, readings: Sequence[ReadingPoint], batch: Batch) -> dict[str, Any]:
    times_s = [_schedule(batch)[k] for k in cause.slots]
    on_record = [_reading(readings[k]) for k in cause.slots] if readings else _of_blank(run, times_s)
    return {
        "form": "leave_out",
        "initial": {"run": run.pk, "slots_s": times_s},
        "headings": (f"{run.cylinder.serial}: {run.title}", "On record", "Then"),
        "rows": tuple(
            (slot(time_s), value, "left out") for time_s, value in zip(times_s, on_record, strict=True)
        ),
    }


def _of_blank(blank: Run, times_s: Sequence[int]) -> list[str]:
    newest = {each.slot_s: each for each in current_readings(blank)}
    held = [newest.get(time_s) for time_s in times_s]
    return [
        "not read" if each is None or each.reading is None else f"{float(each.reading):g}" for each in held
    ]


def _mass(mass_g: float, run: Run) -> dict[str, Any]:
    assert run.portion is not None, "a mass is that of a portion"
    on_record_g = masses_in_force_g(run.portion).get(str(Purpose.PORTION))
    before = "not weighed" if on_record_g is None else f"{on_record_g:g} g"
    return {
        "form": "mass",
        "initial": {"run": run.pk, "purpose": Purpose.PORTION, "mass_g": f"{mass_g:g}"},
        "headings": ("Weighing", "On record", "Proposed"),
        "rows": ((f"{run.title}, {Purpose.PORTION.label}", before, f"{mass_g:g} g"),),
    }


def _reading(point: ReadingPoint) -> str:
    return point.state.value if point.reading is None else f"{point.reading:g}"
