"""When the sand of a portion may be sieved: after the last reading of its cylinder, and never of a void run."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone
from django.utils.text import capfirst

from batches.bench.rules import missing_slots, time_zero
from batches.planning.models import Run
from batches.voiding.models import void_of
from particles.distribution.spoken import spoken_time
from particles.models import Portion


@dataclass(frozen=True)
class OpenSlot:
    """One slot of a cylinder that holds neither a reading nor a reason."""

    slot_s: int
    due_at: datetime | None
    """None while the cylinder is not started."""

    def in_words(self, at: datetime) -> str:
        """Its time of the schedule, and the clock time at which it is or was due."""
        if self.due_at is None:
            return spoken_time(self.slot_s)
        due, today = timezone.localtime(self.due_at), timezone.localdate(at)
        clock = f"{due:%H:%M}" if due.date() == today else f"{due:%-d %b, %H:%M}"
        return f"{spoken_time(self.slot_s)}, due {'since ' if self.due_at < at else ''}{clock}"


def open_slots(run: Run) -> list[OpenSlot]:
    """Slots of a run that are still to be read, in order of the schedule; none of a void run."""
    zero = time_zero(run)
    return [
        OpenSlot(slot_s, None if zero is None else zero + timedelta(seconds=slot_s))
        for slot_s in missing_slots(run)
    ]


def why_run_not_sieved(run: Run, at: datetime) -> str:
    """What keeps the sand of a run from being sieved now, and what next; '' when nothing does."""
    void, serial = void_of(run), run.cylinder.serial
    if void is not None:
        return (
            f"Cylinder {serial} is void: {void.in_words}. Its sand says nothing of the sample, so nothing is sieved; "
            "the sample gets a new portion."
        )
    still_open = open_slots(run)
    if not still_open:
        return ""
    if time_zero(run) is None:
        return f"Cylinder {serial} has not been started. Its sand is washed out and sieved after its last reading."
    listed = "; ".join(each.in_words(at) for each in still_open)
    return (
        f"Cylinder {serial} still has open readings: {listed}. "
        "Wash out and sieve when each is taken, or was given as missed with its reason."
    )


def blank_still_open(run: Run, at: datetime) -> str:
    """What the blank of a run's batch still lacks, and what next; '' when nothing."""
    blank = run.batch.blank
    still_open = open_slots(blank)
    if not still_open:
        return ""
    listed = "; ".join(each.in_words(at) for each in still_open)
    return (
        f"The blank in cylinder {blank.cylinder.serial} still has open readings: {listed}. No run of the batch is "
        "computed before: read it, or give it as missed with the reason."
    )


def why_not_sieved(portion: Portion, at: datetime) -> str:
    """What keeps the sand of a portion from being sieved now, and what next; '' when nothing does."""
    run = Run.objects.filter(portion=portion).select_related("batch__method", "cylinder").first()
    if run is None:
        return (
            f"{capfirst(portion.beaker)} stands in no batch. Its sand is washed out of its cylinder after the "
            "readings, and sieved then."
        )
    return why_run_not_sieved(run, at)
