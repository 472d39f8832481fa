"""What pages show of a timetable: each act with its clock time, and what comes next in each batch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth import get_user_model
from django.utils import timezone

from batches.bench.models import BlankReading, Reading, Replunge, RunStart
from batches.planning.models import Batch, Run
from batches.planning.timetable import PACES, Act, Doing, NotPlaced
from batches.planning.timetable.day import BLANK_AT_LEAST_S, opening_slots
from batches.planning.timetable.first_fit import BLANK
from batches.timetables.calendar_text import Event
from batches.timetables.models import BenchDay, FoundTimetable, KeptTimetable, in_force
from batches.timetables.plain import acts_from_plain, lost_from_plain
from batches.timetables.rules import IN_THE_ROOM
from batches.voiding.models import not_void
from particles.distribution import ReadingState
from particles.distribution.spoken import spoken_time


@dataclass(frozen=True)
class ActRow:
    """One act of a timetable as a page shows it."""

    number: int
    at: datetime
    until: datetime
    person: Any
    batch: str
    cylinder: str
    holds: str
    """The code on the beaker, or `blank`: nothing here tells one portion of a bag from another."""
    what: str
    values: tuple[str, ...]
    """Names of the values that are read in it."""
    act: Act
    is_over: bool
    """Whether it is done, or its cylinder is read no further."""

    @property
    def day(self) -> date:
        """The day of the act in the laboratory's time zone."""
        return timezone.localdate(self.at)

    @property
    def is_start(self) -> bool:
        """Whether a cylinder is started in it."""
        return self.act.doing is Doing.START


@dataclass(frozen=True)
class LostRow:
    """What found no place, and why."""

    what: str
    reason: str


class Bench:
    """What is on record of the cylinders of a day, fetched once: codes, starts, readings."""

    def __init__(self, batches: Iterable[int]) -> None:
        """`batches` are primary keys."""
        keys = list(batches)
        runs = Run.objects.filter(batch__in=keys).select_related("cylinder", "portion", "batch__method")
        self.runs = {(run.batch.number, run.cylinder.serial): run for run in runs}
        self.blanks = {run.batch.number: run for run in self.runs.values() if run.is_blank}
        self.schedules = {
            run.batch.number: tuple(round(s) for s in run.batch.method.edition.schedule_s)
            for run in self.blanks.values()
        }
        self.started = set(RunStart.objects.filter(run__batch__in=keys).values_list("run", flat=True))
        stirred = Replunge.objects.filter(run__batch__in=keys).order_by("turn")
        newest: dict[int, int] = dict(stirred.values_list("run", "pk"))
        read = Reading.objects.filter(run__batch__in=keys).values_list("run", "slot_s", "replunge")
        self.read = {(run, slot_s) for run, slot_s, since in read if since == newest.get(run)}
        standing = not_void(Run.objects.filter(batch__in=keys, batch__state__in=IN_THE_ROOM))
        self.standing = set(standing.values_list("pk", flat=True))
        self.blank_read: dict[int, list[datetime]] = {}
        kept = Reading.objects.filter(run__in=self.blanks.values(), state=ReadingState.READ.value)
        between = BlankReading.objects.filter(run__in=self.blanks.values(), takes_back__isnull=True)
        for rows in (kept, between):
            for run_pk, taken_at in rows.values_list("run", "taken_at"):
                if taken_at is not None:
                    self.blank_read.setdefault(run_pk, []).append(taken_at)

    def is_over(self, act: Act, at: datetime) -> bool:
        """
        Whether an act planned for a moment is on record, or its cylinder is read no further.

        A blank is served by its reading up to ten minutes before.
        """
        if act.doing is Doing.BLANK:
            blank, early = self.blanks[act.rack], timedelta(seconds=BLANK_AT_LEAST_S)
            return blank.pk not in self.standing or any(
                read >= at - early for read in self.blank_read.get(blank.pk, ())
            )
        run = self.runs[(act.rack, act.cylinder)]
        if run.pk not in self.standing:
            return True
        return run.pk in self.started if act.doing is Doing.START else (run.pk, act.slot_s) in self.read


def act_rows(day: BenchDay, acts: Sequence[Act], bench: Bench) -> list[ActRow]:
    """Acts of a timetable in order of time."""
    people = get_user_model()._default_manager.in_bulk({int(act.person) for act in acts})
    hands = PACES[day.asked["pace"]]
    opening = {rack: opening_slots(slots_s, hands) for rack, slots_s in bench.schedules.items()}
    to_start = {rack for rack, blank in bench.blanks.items() if blank.pk not in bench.started}
    rows: list[ActRow] = []
    for act in acts:
        starts_blank = act.doing is Doing.BLANK and act.rack in to_start
        to_start -= {act.rack} if starts_blank else set()
        rows.append(
            _row(len(rows) + 1, day, act, bench, people, opening[act.rack], starts_blank=starts_blank)
        )
    return rows


def _row(
    number: int,
    day: BenchDay,
    act: Act,
    bench: Bench,
    people: Mapping[int, Any],
    opening: Sequence[int],
    *,
    starts_blank: bool,
) -> ActRow:
    at = day.at(act.at_s)
    run = bench.blanks[act.rack] if act.doing is Doing.BLANK else bench.runs[(act.rack, act.cylinder)]
    return ActRow(
        number=number,
        at=at,
        until=day.at(act.hands_to_s),
        person=people[int(act.person)],
        batch=act.rack,
        cylinder=run.cylinder.serial,
        holds=run.bench_title,
        what=_what(act, opening, starts_blank=starts_blank),
        values=tuple(map(spoken_time, opening)) if act.doing is Doing.START else (_slot(act),),
        act=act,
        is_over=bench.is_over(act, at),
    )


def _what(act: Act, opening: Sequence[int], *, starts_blank: bool) -> str:
    if act.doing is Doing.BLANK:
        return "start the blank, then read it" if starts_blank else "read the blank"
    if act.doing is Doing.READING:
        return f"read at {spoken_time(act.slot_s)}"
    return "start" + (f", read at {' and '.join(map(spoken_time, opening))}" if opening else "")


def _slot(act: Act) -> str:
    return spoken_time(act.slot_s) if act.slot_s else "blank"


def lost_rows(found: FoundTimetable) -> Iterator[LostRow]:
    """What found no place in a timetable, each with its reason."""
    for lost in lost_from_plain(found.not_placed):
        yield LostRow(_lost(lost), lost.reason)


def _lost(lost: NotPlaced) -> str:
    if lost.slot_s is None and lost.cylinder == BLANK:
        return f"the blank of {lost.rack}"
    slot = "" if lost.slot_s is None else f", read at {spoken_time(lost.slot_s)}"
    return f"cylinder {lost.cylinder} of {lost.rack}{slot}"


@dataclass(frozen=True)
class Shown:
    """A timetable with everything a page says of it."""

    day: BenchDay
    found: FoundTimetable
    rows: list[ActRow]
    lost: list[LostRow]

    @property
    def last_start_at(self) -> datetime | None:
        """Moment of the last start."""
        return None if self.found.last_start_s is None else self.day.at(self.found.last_start_s)

    @property
    def bound_at(self) -> datetime | None:
        """No timetable of these cylinders starts the last one before this moment."""
        return None if self.found.lower_bound_s is None else self.day.at(self.found.lower_bound_s)

    @property
    def first_answer_at(self) -> datetime | None:
        """Moment of the last start in the first fit."""
        first = self.found.day.found.order_by("turn").values_list("last_start_s", flat=True)[0]
        return None if first is None else self.day.at(first)

    @property
    def ends_at(self) -> datetime | None:
        """When hands are free after the last act."""
        return max((row.until for row in self.rows), default=None)


def shown(day: BenchDay, found: FoundTimetable) -> Shown:
    """A timetable of a day as a page shows it."""
    bench = Bench(day.batches.values_list("batch", flat=True))
    return Shown(day, found, act_rows(day, acts_from_plain(found.acts), bench), list(lost_rows(found)))


@dataclass(frozen=True)
class NextAct:
    """The next act in one batch by the timetable in force."""

    kept: KeptTimetable
    row: ActRow
    is_late: bool


def next_acts(batches: Iterable[Batch], *, at: datetime) -> dict[int, NextAct]:
    """The next act of each batch that the timetable in force still has one for, by primary key of the batch."""
    wanted = {batch.number: batch.pk for batch in batches}
    kept = in_force()
    if kept is None:
        return {}
    acts = [act for act in acts_from_plain(kept.found.acts) if act.rack in wanted]
    if not acts:
        return {}
    day = kept.found.day
    bench = Bench({wanted[act.rack] for act in acts})
    first: dict[str, Act] = {}
    for act in acts:
        if act.rack not in first and not bench.is_over(act, day.at(act.at_s)):
            first[act.rack] = act
    return {
        wanted[row.batch]: NextAct(kept, row, is_late=row.at < at - timedelta(minutes=1))
        for row in act_rows(day, list(first.values()), bench)
    }


def planned_for_tablets(batches: Iterable[Batch]) -> list[dict[str, Any]]:
    """Starts and extra readings of blanks that the timetable in force still holds for them, in plain values."""
    wanted = {batch.number: batch.pk for batch in batches}
    kept = in_force()
    if kept is None or not wanted:
        return []
    acts = [
        act
        for act in acts_from_plain(kept.found.acts)
        if act.rack in wanted and act.doing is not Doing.READING
    ]
    if not acts:
        return []
    day, bench = kept.found.day, Bench({wanted[act.rack] for act in acts})
    return [
        {
            "run": bench.blanks[row.batch].pk
            if row.act.doing is Doing.BLANK
            else bench.runs[(row.batch, row.cylinder)].pk,
            "kind": row.act.doing.value,
            "at": row.at.isoformat(),
            "by": str(row.person),
        }
        for row in act_rows(day, acts, bench)
        if not row.is_over
    ]


def events_of(person: Any) -> list[Event]:
    """
    What one person has still to do by the timetable in force, as events: cylinders and codes, nobody's name.

    An act keeps its name from version to version, whoever does it; readings of a blank are counted in their batch.
    """
    kept = in_force()
    if kept is None:
        return []
    day, acts, blanks = kept.found.day, acts_from_plain(kept.found.acts), Counter[str]()
    bench, events = Bench(day.batches.values_list("batch", flat=True)), []
    names: dict[Act, str] = {}
    for act in acts:
        blanks[act.rack] += act.doing is Doing.BLANK
        turn = blanks[act.rack] if act.doing is Doing.BLANK else act.slot_s
        names[act] = sha256(f"{act.rack}/{act.cylinder}/{act.doing.value}/{turn}".encode()).hexdigest()[:32]
    for row in act_rows(day, acts, bench):
        if row.act.person != str(person.pk) or row.is_over:
            continue
        events.append(
            Event(
                uid=f"{names[row.act]}@{urlsplit(settings.PUBLIC_URL).hostname}",
                sequence=kept.number,
                stamp=kept.at,
                start=row.at,
                end=row.until,
                summary=f"Cylinder {row.cylinder}: {row.what}",
                description=f"Batch {row.batch}, {row.holds}. Timetable {kept.number}.",
            )
        )
    return events
