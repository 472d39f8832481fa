"""
The rules of the bench day: what is asked for, how better timetables are sought, and which one comes into force.

`ask` stores the day with its first timetable and notifies a worker; `search` is what a worker does; `keep` and `late`
put a timetable into force. A search serves whoever looks at the page: a lost one is told there and asked for again.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import ceil
from typing import Any

from celery import current_app
from django.contrib.auth import get_user_model
from django.db import OperationalError, transaction
from django.utils import timezone
from kombu.exceptions import OperationalError as QueueError

from batches.bench.rules import current_readings, time_zero
from batches.planning.freshness import moment_in_words
from batches.planning.models import Batch, BatchState
from batches.planning.timetable import (
    PACES,
    Day,
    Doing,
    Person,
    Rack,
    Slide,
    Timetable,
    better_timetables,
    blank_within_of,
    first_timetable,
)
from batches.timetables.clock import Span, seconds_from, seconds_of
from batches.timetables.models import (
    SEARCH_S,
    BatchOfDay,
    BenchDay,
    FoundTimetable,
    KeptTimetable,
    SearchState,
    in_force,
)
from batches.timetables.plain import (
    acts_from_plain,
    acts_to_plain,
    day_from_plain,
    day_to_plain,
    lost_to_plain,
)
from batches.voiding.models import is_void
from particles.models import NumberSeries, Sample
from particles.records.act import done
from particles.records.person import Person as Somebody
from particles.records.refusals import AlreadyThere, NotPossible, WrongState

SEARCH = "batches.search_timetable"
"""Name of the task that workers know."""
IN_THE_ROOM = (BatchState.RUNNING, BatchState.DISPERSED, BatchState.SOAKING, BatchState.PLANNED)
"""States in which a batch has starts or readings to come, the nearest to its end first."""
TOLD_EVERY_S = 2.0
"""A better timetable is stored at most so often while the search goes on. [s]"""
SERIES = "timetable"

Hours = Mapping[date, Sequence[Span]]
"""When somebody is at the bench, by day, in minutes of the day as clocks show them."""

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Asked:
    """What somebody asks of a bench day."""

    batches: Sequence[Batch]
    hours: Mapping[int, Hours]
    """Of each person at the bench, by primary key."""
    pace: str
    slide_pct: float
    first_start_at: datetime
    as_typed: Mapping[str, Mapping[str, str]]
    """The hours as they were typed, by person and day, for the next time."""


def in_the_room() -> list[Batch]:
    """Batches with something to come at the bench, the running ones first."""
    found = Batch.objects.filter(state__in=IN_THE_ROOM).select_related("method")
    return sorted(found, key=lambda batch: (IN_THE_ROOM.index(BatchState(batch.state)), batch.number))


def may_be_at_the_bench() -> list[Any]:
    """People with an open log-in who read at the bench, by name."""
    people = get_user_model()._default_manager.filter(is_active=True).order_by("first_name", "username")
    return [person for person in people if person.has_perm("batches.read")]


def ask(asked: Asked, *, by: Somebody, at: datetime) -> BenchDay:
    """Store a bench day with its first timetable, and have better ones sought."""
    origin = at.replace(second=0, microsecond=0)
    zone = timezone.get_current_timezone()
    people = tuple(
        Person(
            str(pk),
            tuple(span for day in sorted(hours) for span in seconds_of(day, hours[day], zone, origin)),
        )
        for pk, hours in asked.hours.items()
    )
    if not all(person.there for person in people):
        raise NotPossible(
            "Somebody is at the bench, but at no time. Give the hours, or leave the person out."
        )
    return _asked(
        asked.batches,
        people,
        asked.pace,
        asked.slide_pct,
        origin=origin,
        starts_from_s=ceil((asked.first_start_at - origin).total_seconds()),
        hours=asked.as_typed,
        by=by,
        at=at,
    )


@transaction.atomic
def _asked(
    batches: Sequence[Batch],
    people: tuple[Person, ...],
    pace: str,
    slide_pct: float,
    *,
    origin: datetime,
    starts_from_s: int,
    hours: Mapping[str, Mapping[str, str]],
    by: Somebody,
    at: datetime,
) -> BenchDay:
    racks = tuple(rack for rack in (rack_of(batch, origin) for batch in batches) if rack is not None)
    if not racks:
        raise NotPossible("Nothing is to be started or read in these batches.")
    hands = PACES[pace]
    last = max((start for rack in racks for _, start in rack.started_s), default=None)
    now_s = ceil((at - origin).total_seconds())
    if last is not None:  # whoever started it is still at that cylinder
        now_s = max(now_s, last + hands.start_after_s)
    day = Day(
        people=people,
        racks=racks,
        hands=hands,
        slide=Slide(slide_pct),
        blank_within_s=min(blank_within_of(batch.method.edition) for batch in batches),
        now_s=now_s,
        starts_from_s=starts_from_s,
    )
    made = BenchDay.objects.create(
        asked_by_id=by.pk,
        asked_at=at,
        origin_at=origin,
        asked=day_to_plain(day, pace),
        hours={person: dict(days) for person, days in hours.items()},
        search_asked_at=at,
    )
    names = {rack.name for rack in racks}
    BatchOfDay.objects.bulk_create(BatchOfDay(day=made, batch=b) for b in batches if b.number in names)
    _store(made, first_timetable(day), at=at)
    transaction.on_commit(lambda: notify_worker(made.pk))
    return made


def rack_of(batch: Batch, origin: datetime) -> Rack | None:
    """The cylinders of a batch as the planner takes them; None when nothing is to be started or read in it."""
    runs = batch.sample_runs.prefetch_related("voids__lifted", "replunges", "readings").select_related(
        "run_start"
    )
    slots = tuple(round(slot) for slot in batch.method.edition.schedule_s)
    standing = [run for run in runs.order_by("position") if not is_void(run)]
    started = [(run, zero) for run in standing if (zero := time_zero(run)) is not None]
    read = [(run.cylinder.serial, reading.slot_s) for run, _ in started for reading in current_readings(run)]
    if len(read) == len(slots) * len(standing):
        return None
    return Rack(
        batch.number,
        tuple(run.cylinder.serial for run in standing),
        slots,
        tuple((run.cylinder.serial, seconds_from(origin, zero)) for run, zero in started),
        tuple(read),
    )


def notify_worker(day_pk: int) -> None:
    """Send a worker the number of a day. The page tells when no worker takes it up."""
    try:
        current_app.send_task(SEARCH, (day_pk,), retry=False)
    except (QueueError, OSError) as error:
        logger.warning("The queue did not take the search for bench day %s: %s", day_pk, error)


def search(day_pk: int, *, at: datetime, seconds: float = SEARCH_S) -> None:
    """Seek better timetables for a day if no other worker does, and store each as it comes."""
    row = BenchDay.objects.claim(day_pk, at=at)
    if row is None:
        return
    try:
        day = day_from_plain(row.asked)
        first = first_timetable(day)
        for found in _sought(day, first, seconds):
            if not _keep_up(row, found):
                return  # given up as lost, and asked for again
        BenchDay.objects.mine(row).update(state=SearchState.DONE, error="")
    except OperationalError as error:  # the database gave up for now: the page offers to search again
        logger.warning("The search for bench day %s ended: %s", day_pk, error)
        raise
    except Exception as error:
        BenchDay.objects.mine(row).update(state=SearchState.FAILED, error=repr(error))
        raise


def _sought(day: Day, first: Timetable, seconds: float) -> Iterator[Timetable | None]:
    """
    The newest better timetable every few seconds, None where there is none, and the last one at the end.

    The solver calls from threads of its own; the database is spoken to from this one alone.
    """
    told: list[Timetable] = []
    with ThreadPoolExecutor(1) as pool:
        sought: Future[Timetable] = pool.submit(better_timetables, day, first, seconds, seen=told.append)
        shown = 0
        while not wait([sought], timeout=TOLD_EVERY_S).done:
            yield told[-1] if len(told) > shown else None
            shown = len(told)
        yield sought.result()


def _keep_up(row: BenchDay, found: Timetable | None) -> bool:
    """Store a better timetable and say that the worker is alive; false when the search is no longer its own."""
    with transaction.atomic():
        if not BenchDay.objects.mine(row).update(heartbeat_at=timezone.now()):
            return False
        if found is not None and _adds_to(row.best, found):
            _store(row, found, at=timezone.now(), turn=row.best.turn + 1)
    return True


def _adds_to(best: FoundTimetable, found: Timetable) -> bool:
    """Whether a timetable is no worse than the best so far, and says anything else: other acts, another bound."""
    lost, last_s = len(best.not_placed), best.last_start_s or 0
    if (len(found.not_placed), found.last_start_s or 0) > (lost, last_s):
        return False
    said = (acts_from_plain(best.acts), best.lower_bound_s, best.proven)
    return said != (found.acts, found.lower_bound_s or None, found.proven)


def _store(row: BenchDay, found: Timetable, *, at: datetime, turn: int = 1) -> FoundTimetable:
    return FoundTimetable.objects.create(
        day=row,
        turn=turn,
        acts=acts_to_plain(found),
        not_placed=lost_to_plain(found),
        last_start_s=found.last_start_s,
        lower_bound_s=found.lower_bound_s or None,
        proven=found.proven,
        found_at=at,
    )


def search_again(row: BenchDay, *, at: datetime) -> None:
    """Have better timetables sought once more: after an end, a failure, or a worker that fell silent."""
    if row.state == SearchState.RUNNING and not row.is_lost(at):
        raise WrongState("A worker is seeking better timetables for this day already. Wait for it.")
    changed = BenchDay.objects.filter(pk=row.pk, state=row.state, attempts=row.attempts)
    if row.state == SearchState.ASKED:
        changed.update(search_asked_at=at)
    elif not changed.update(state=SearchState.ASKED, search_asked_at=at, error=""):
        raise WrongState("Somebody else has just asked for this search. Reload the page.")
    transaction.on_commit(lambda: notify_worker(row.pk))


@transaction.atomic
def keep(
    found: FoundTimetable, *, seen: int, by: Somebody, at: datetime, was_late: bool = False
) -> KeptTimetable:
    """
    Put a timetable into force.

    Parameters
    ----------
    seen : number of the timetable in force that the page knew; 0 for none.
    """
    number = NumberSeries.take(SERIES, 0)  # locked: of two people at once, the second is told about the first
    newest = in_force()
    if newest is not None and newest.number != seen:
        raise AlreadyThere(
            f"Since this page was opened, {newest.by} kept timetable {newest.number} ({moment_in_words(newest.at)}). "
            "Yours is not kept. Look at that one, then decide."
        )
    kept = KeptTimetable.objects.filter(found=found).first()
    if kept is not None:
        raise AlreadyThere(f"This is {kept} already.")
    _require_still_so(found.day)
    return KeptTimetable.objects.create(number=number, found=found, was_late=was_late, **done(by, at))


def _require_still_so(row: BenchDay) -> None:
    """Refuse a timetable whose cylinders were started, stirred again, added or given up since it was asked for."""
    batches = Batch.objects.filter(bench_days__day=row).select_related("method")
    now = {batch.number: _stands(batch, row) for batch in batches}
    asked = {rack.name: (rack.cylinders, dict(rack.started_s)) for rack in day_from_plain(row.asked).racks}
    changed = [number for number, stood in asked.items() if now[number] != stood]
    if changed:
        raise AlreadyThere(
            f"Since this timetable was asked for, cylinders of {', '.join(changed)} were started, stirred again, "
            "added or given up. Plan again from now."
        )


def _stands(batch: Batch, row: BenchDay) -> tuple[tuple[str, ...], dict[str, int]] | None:
    if batch.state not in IN_THE_ROOM:
        return None
    rack = rack_of(batch, row.origin_at)
    return None if rack is None else (rack.cylinders, dict(rack.started_s))


@transaction.atomic
def late(*, seen: int, by: Somebody, at: datetime) -> KeptTimetable:
    """
    Plan again from now what the timetable in force still holds: starts move, cylinders that run do not.

    The first timetable that can be kept comes into force at once; better ones are sought and kept by a person.
    """
    newest = in_force()
    if newest is None:
        raise NotPossible("No timetable is in force. Plan the bench day first.")
    row, before = newest.found.day, day_from_plain(newest.found.day.asked)
    origin = at.replace(second=0, microsecond=0)
    moved = seconds_from(row.origin_at, origin)
    people = tuple(
        replace(person, there=tuple((a - moved, b - moved) for a, b in person.there))
        for person in before.people
    )
    batches = [batch for batch in in_the_room() if batch.number in {rack.name for rack in before.racks}]
    made = _asked(
        batches,
        people,
        row.asked["pace"],
        before.slide.pct,
        origin=origin,
        starts_from_s=before.starts_from_s - moved,
        hours=row.hours,
        by=by,
        at=at,
    )
    return keep(made.best, seen=seen, by=by, at=at, was_late=True)


def left_out(row: BenchDay) -> list[Batch]:
    """Running batches in the room that a day does not hold: nobody has a time for their readings."""
    there = set(row.batches.values_list("batch", flat=True))
    return [b for b in in_the_room() if b.state == BatchState.RUNNING and b.pk not in there]


@dataclass(frozen=True)
class TooSoon:
    """A batch whose first start comes before its soak is as long as the method asks."""

    batch: Batch
    starts_at: datetime
    soaked_at: datetime
    """When the soak is long enough; where it has not begun, if it began now."""


def too_soon(found: FoundTimetable, *, at: datetime) -> list[TooSoon]:
    """Batches that are planned or soaking and would be started before the soak is long enough."""
    starts: dict[str, datetime] = {}
    for act in acts_from_plain(found.acts):
        if act.doing is Doing.START:
            starts.setdefault(act.rack, found.day.at(act.at_s))
    waiting = Batch.objects.filter(
        bench_days__day=found.day, state__in=(BatchState.PLANNED, BatchState.SOAKING)
    ).select_related("method")
    rows = [
        TooSoon(
            batch,
            starts[batch.number],
            (batch.soak_started_at or at) + timedelta(hours=batch.method.edition.soak_minimum_h),
        )
        for batch in waiting
        if batch.number in starts
    ]
    return [row for row in rows if row.starts_at < row.soaked_at]


def regulated_batches(row: BenchDay) -> list[str]:
    """
    Numbers of the batches of a day that hold soil from a regulated origin.

    Of batches and not of cylinders: two marked cylinders of one bag would be told apart from the others.
    """
    samples = Sample.objects.with_regulation().filter(
        regulated=True, portions__run__batch__bench_days__day=row, portions__run__taken_out__isnull=True
    )
    return sorted(set(samples.values_list("portions__run__batch__number", flat=True)))
