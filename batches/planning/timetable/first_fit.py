"""
The first timetable, in a moment: cylinders one after the other, each at the first start at which all it needs is free.

The readings of the blank are laid down before, in even steps, and those that nobody needs are taken away after.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace

from batches.planning.timetable.day import (
    Act,
    Day,
    Doing,
    NotPlaced,
    Person,
    Rack,
    Span,
    Timetable,
    ceil_to,
    opening_slots,
)
from particles.distribution.spoken import spoken_time

BLANK = "blank"
"""What the blank of a rack is called among its cylinders."""
DAY_S = 86_400
LONGEST_DAY_S = 12 * 3600
"""Spare blanks are laid out for starts over so long. [s]"""
LONGEST_S = 10 * DAY_S
"""No start is sought later than this after the earliest one. [s]"""


@dataclass(slots=True)
class Busy:
    """Spans in which one pair of hands, or one cylinder, is taken; none overlaps another."""

    spans: list[Span] = field(default_factory=list)

    def is_free(self, span: Span) -> bool:
        """Whether nothing in here overlaps a span."""
        place = bisect_left(self.spans, (span[1], span[1]))
        return place == 0 or self.spans[place - 1][1] <= span[0]

    def next_free(self, span: Span) -> int:
        """How much later a span fits that is not free: to the end of the last span it runs into. [s]"""
        place = bisect_left(self.spans, (span[1], span[1]))
        return self.spans[place - 1][1] - span[0]

    def last_free(self, span: Span) -> int:
        """How much earlier a span fits that is not free: to the start of the last span it runs into. [s]"""
        place = bisect_left(self.spans, (span[1], span[1]))
        return span[1] - self.spans[place - 1][0]

    def take(self, span: Span) -> None:
        """Take a span that is free."""
        insort(self.spans, span)

    def give_back(self, span: Span) -> None:
        """Free a span that was taken."""
        del self.spans[bisect_left(self.spans, span)]


class Bench:
    """People's hands as they fill."""

    def __init__(self, day: Day) -> None:
        self.day = day
        self.hands = {person.name: Busy(_away(person, day)) for person in day.people}
        self.acts: list[Act] = []

    def who_can(self, doing: Doing, at_s: int) -> str | None:
        """Somebody whose hands are free for an act at a moment; None when nobody's are."""
        span = self.day.hands.around(doing, at_s)
        return next((name for name, busy in self.hands.items() if busy.is_free(span)), None)

    def later_by(self, doing: Doing, at_s: int) -> int:
        """How much later the first of those who are busy may be free. [s]"""
        span = self.day.hands.around(doing, at_s)
        return min(busy.next_free(span) for busy in self.hands.values())

    def keep(self, rack: str, cylinder: str, doing: Doing, slot_s: int, at_s: int, person: str) -> Act:
        """Keep an act, and the hands that do it."""
        span = self.day.hands.around(doing, at_s)
        self.hands[person].take(span)
        act = Act(person, rack, cylinder, doing, slot_s, at_s, *span)
        self.acts.append(act)
        return act

    def drop(self, act: Act) -> None:
        """Take an act out again."""
        self.hands[act.person].give_back((act.hands_from_s, act.hands_to_s))
        self.acts.remove(act)


def first_timetable(day: Day, kept: Sequence[Act] = ()) -> Timetable:
    """
    A timetable by first fit: sound, found at once, seldom the shortest.

    Where the hands leave no place for a blank, all is laid out once more around blanks in even steps.

    Parameters
    ----------
    kept : acts of an earlier timetable that stay as they are; its blanks are laid down anew.
    """
    found = _laid_out(day, kept, spare_blanks=False)
    if any(lost.cylinder == BLANK for lost in found.not_placed):
        around = _laid_out(day, kept, spare_blanks=True)
        found = min(found, around, key=lambda each: len(each.not_placed))
    return found


def _laid_out(day: Day, kept: Sequence[Act], *, spare_blanks: bool) -> Timetable:
    bench, lost = Bench(day), list[NotPlaced]()
    for act in kept:
        if act.doing is not Doing.BLANK:
            bench.keep(act.rack, act.cylinder, act.doing, act.slot_s, act.at_s, act.person)
    there = {(act.rack, act.cylinder) for act in bench.acts}
    for rack in day.racks:
        for cylinder, start_s in rack.started_s:
            lost += _readings_of_running(bench, rack, cylinder, start_s)
    spare = _spare_blanks(bench) if spare_blanks else []
    for rack in day.racks:
        lost += _starts_of(bench, rack, [c for c in waiting(rack) if (rack.name, c) not in there])
    for blank in spare:
        bench.drop(blank)
    lost += _blanks(bench, {(blank.rack, blank.at_s) for blank in spare})
    return Timetable(tuple(sorted(bench.acts, key=lambda act: (act.at_s, act.cylinder))), tuple(lost))


def _spare_blanks(bench: Bench) -> list[Act]:
    """Blanks of each rack in even steps over the longest day and its last readings, to be given back again."""
    day, found = bench.day, list[Act]()
    for place, rack in enumerate(day.racks):
        step = day.blank_within_s // day.grid_s * day.grid_s
        start = ceil_to(day.now_s + 300 + place * 120, day.grid_s)
        for at_s in range(start, day.first_start_s + LONGEST_DAY_S + rack.slots_s[-1], step):
            person = bench.who_can(Doing.BLANK, at_s)
            if person is not None:
                found.append(bench.keep(rack.name, BLANK, Doing.BLANK, 0, at_s, person))
    return found


def left_slots(rack: Rack, cylinder: str, day: Day) -> list[int]:
    """The slots of a cylinder that are read apart from its opening and are still to come."""
    opening = opening_slots(rack.slots_s, day.hands)
    return [slot for slot in rack.slots_s if slot not in opening and (cylinder, slot) not in rack.done_s]


def waiting(rack: Rack) -> list[str]:
    """The cylinders of a rack that are still to be started, in order."""
    running = {cylinder for cylinder, _ in rack.started_s}
    return [cylinder for cylinder in rack.cylinders if cylinder not in running]


def _away(person: Person, day: Day) -> list[Span]:
    return person.away(day.first_start_s + LONGEST_S + 2 * DAY_S, min(day.now_s, 0) - 2 * DAY_S)


def _readings_of_running(bench: Bench, rack: Rack, cylinder: str, start_s: int) -> Iterator[NotPlaced]:
    """The readings to come of a cylinder that runs; it never moves, so they come before every start."""
    day = bench.day
    there = {act.slot_s for act in bench.acts if (act.rack, act.cylinder) == (rack.name, cylinder)}
    for slot in left_slots(rack, cylinder, day):
        if slot in there:
            continue
        early, late = day.slide.window(slot, day.grid_s)
        if start_s + late < day.now_s:
            yield NotPlaced(
                rack.name,
                cylinder,
                slot,
                "its time is past: read it now, the true time is used, or give it up",
            )
            continue
        found = _moment(bench, start_s, slot, max(early, day.now_s - start_s), late, Busy())
        if found is None:
            yield NotPlaced(rack.name, cylinder, slot, _why_no_reading(bench, start_s + slot))
            continue
        bench.keep(rack.name, cylinder, Doing.READING, slot, found[0], found[1])


def _why_no_reading(bench: Bench, at_s: int) -> str:
    if any(_there(person, bench.day, Doing.READING, at_s) for person in bench.day.people):
        return "every pair of hands is at another cylinder then"
    return "nobody is at the bench then"


def _there(person: Person, day: Day, doing: Doing, at_s: int) -> bool:
    start, end = day.hands.around(doing, at_s)
    return not person.there or any(a <= start and end <= b for a, b in person.there)


def _starts_of(bench: Bench, rack: Rack, cylinders: Sequence[str]) -> Iterator[NotPlaced]:
    day = bench.day
    at_s, why = ceil_to(day.first_start_s, day.grid_s), ""
    for cylinder in cylinders:
        slots = left_slots(rack, cylinder, day)
        found = None if why else _first_start(bench, rack, slots, at_s)
        if found is None:  # nor will one of the others, which are alike and come later
            why = why or _why_no_start(bench, slots)
            yield NotPlaced(rack.name, cylinder, None, why)
            continue
        start, person, moments = found
        bench.keep(rack.name, cylinder, Doing.START, 0, start, person)
        for slot, (moment, reader) in zip(slots, moments, strict=True):
            bench.keep(rack.name, cylinder, Doing.READING, slot, moment, reader)
        at_s = start + day.grid_s


def _first_start(
    bench: Bench, rack: Rack, slots: Sequence[int], at_s: int
) -> tuple[int, str, list[tuple[int, str]]] | None:
    """The first start at which the opening block and a moment for every reading are free."""
    day, most_s = bench.day, at_s + LONGEST_S
    while at_s <= most_s:
        person = bench.who_can(Doing.START, at_s)
        if person is None:
            at_s += max(ceil_to(bench.later_by(Doing.START, at_s), day.grid_s), day.grid_s)
            continue
        moments = _all_moments(bench, at_s, slots)
        if len(moments) == len(slots):
            return at_s, person, moments
        at_s += _later_by(bench, at_s, slots[len(moments)])
    return None


def _later_by(bench: Bench, start_s: int, slot_s: int) -> int:
    """How much later the next start is worth trying, when a reading of this one found no moment. [s]"""
    day = bench.day
    early_s, late_s = day.slide.window(slot_s, day.grid_s)
    if _moment(bench, start_s, slot_s, early_s, late_s, Busy()) is not None:
        return day.grid_s  # the cylinder itself was in the way
    # Nobody's hands are free in the whole window: not before its end has reached the next moment when somebody's are.
    end_s = start_s + late_s
    free = (_free_from(day, (busy,), end_s, end_s + LONGEST_S, day.grid_s) for busy in bench.hands.values())
    return min((at_s - end_s for at_s in free if at_s is not None), default=LONGEST_S)


def _all_moments(bench: Bench, start_s: int, slots: Sequence[int]) -> list[tuple[int, str]]:
    """A moment and a person for each reading of a cylinder started at a moment, up to the first that has none."""
    day, own = bench.day, Busy([bench.day.hands.around(Doing.START, start_s)])
    found = []
    for slot in slots:
        moment = _moment(bench, start_s, slot, *day.slide.window(slot, day.grid_s), own)
        if moment is None:
            break
        own.take(day.hands.around(Doing.READING, moment[0]))
        found.append(moment)
    return found


def _moment(
    bench: Bench, start_s: int, slot_s: int, early_s: int, late_s: int, own: Busy
) -> tuple[int, str] | None:
    """The free moment nearest to a slot, and whose hands; the cylinder's own acts do not overlap either."""
    grid, slot_at_s = bench.day.grid_s, start_s + slot_s
    first_s = slot_at_s + ceil_to(max(early_s - slot_s, 0), grid)
    found: list[tuple[int, int, int, str]] = []
    for place, (name, busy) in enumerate(bench.hands.items()):
        for from_s, until_s, step in (
            (first_s, start_s + late_s, grid),
            (slot_at_s, start_s + early_s, -grid),
        ):
            at_s = _free_from(bench.day, (own, busy), from_s, until_s, step)
            if at_s is not None:
                found.append((abs(at_s - slot_at_s), -step, place, name))
    if not found:
        return None
    apart_s, earlier, _, name = min(found)
    return slot_at_s + (apart_s if earlier < 0 else -apart_s), name


def _free_from(day: Day, taken: tuple[Busy, ...], at_s: int, until_s: int, step: int) -> int | None:
    """The first moment for a reading at which nothing of what is taken is in the way, by steps forward or back."""
    while at_s <= until_s if step > 0 else at_s >= until_s:
        span = day.hands.around(Doing.READING, at_s)
        busy = next((each for each in taken if not each.is_free(span)), None)
        if busy is None:
            return at_s
        far_s = busy.next_free(span) if step > 0 else busy.last_free(span)
        at_s += ceil_to(far_s, abs(step)) * (1 if step > 0 else -1)
    return None


def _why_no_start(bench: Bench, slots: Sequence[int]) -> str:
    """Why a cylinder found no start, whatever else is on the bench."""
    day = bench.day
    alone = Bench(replace(day, racks=()))
    own = Busy([day.hands.around(Doing.START, 0)])
    for slot in slots:
        early, late = day.slide.window(slot, day.grid_s)
        free = [
            t for t in range(early, late + 1, day.grid_s) if own.is_free(day.hands.around(Doing.READING, t))
        ]
        if not free:
            return f"its reading at {spoken_time(slot)} comes while hands are still at the same cylinder"
        own.take(day.hands.around(Doing.READING, free[0]))
    if (
        _first_start(alone, Rack("", (), tuple(slots) or (1,)), slots, ceil_to(day.first_start_s, day.grid_s))
        is None
    ):
        return f"no start has somebody at the bench for its reading {spoken_time(slots[-1])} later"
    return "every pair of hands is taken at each start that would have somebody for all its readings"


def _blanks(bench: Bench, spare: Collection[tuple[str, int]]) -> Iterator[NotPlaced]:
    """Readings of the blank of each rack, so that none of its readings is farther from one than it may be."""
    served: dict[str, list[int]] = defaultdict(list)
    for act in bench.acts:
        served[act.rack].append(act.read_at_s)
    for rack in bench.day.racks:
        yield from _blanks_of(
            bench, rack, sorted(served[rack.name]), [at for of, at in spare if of == rack.name]
        )


def _blanks_of(
    bench: Bench, rack: Rack, moments: Sequence[int], spare: Collection[int]
) -> Iterator[NotPlaced]:
    """From the earliest moment that has no blank on: as late as still serves it, else earlier."""
    within, place = bench.day.blank_within_s, 0
    while place < len(moments):
        first = moments[place]
        # No later than the last reading that it can serve as well.
        latest = moments[bisect_right(moments, first + 2 * within) - 1]
        at_s = _blank_near(bench, first, min(first + within, latest), spare)
        if at_s is None:
            yield NotPlaced(
                rack.name, BLANK, None, f"no free hands within {within // 60} min of its readings"
            )
            place = bisect_right(moments, first + within)
            continue
        bench.keep(rack.name, BLANK, Doing.BLANK, 0, at_s, bench.who_can(Doing.BLANK, at_s) or "")
        place = bisect_right(moments, at_s + within)


def _blank_near(bench: Bench, first_s: int, wanted_s: int, spare: Collection[int]) -> int | None:
    """The free moment nearest to the one wanted that still serves the first reading; spared ones count as well."""
    within, grid = bench.day.blank_within_s, bench.day.grid_s
    least, most = max(first_s - within, ceil_to(bench.day.now_s, grid)), first_s + within
    middle = wanted_s // grid * grid
    tried = {middle + step * grid for step in range(-2 * within // grid, 2 * within // grid + 1)} | set(spare)
    return min(
        (at for at in tried if least <= at <= most and bench.who_can(Doing.BLANK, at)),
        key=lambda at: (abs(at - wanted_s), at),
        default=None,
    )
