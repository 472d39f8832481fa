"""
What a timetable of the bench is made of: people and their hands, cylinders and their slots, acts, what found no place.

All times are whole seconds from one moment, the origin of the plan. Sources: hands-busy times are *common practice*;
the size that is in suspension at a depth goes with one over the square root of time (Stokes' law).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import astuple, dataclass, field
from enum import StrEnum
from math import ceil, floor, sqrt

from particles.distribution import MethodEdition
from particles.distribution.inputs.served_blank import SHIFT_SD_G_L_PER_C, WANDERS_G_L_PER_DAY

Span = tuple[int, int]
"""From, to; the end is not in it. [s]"""
ROOM_C_PER_H = 1.0
"""How fast a room warms or cools on a day that nobody opens its windows. *Common practice*. [C/h]"""
BLANK_SHARE = 0.5
"""What time and temperature between a blank and a reading may add, of the noise of reading a blank. [-]"""

FIRST_READ_S = 30
"""The first reading of the opening block, after its start. *Common practice*. [s]"""
LIFT_AND_WIPE_S = 20
"""From the last reading of the opening block to free hands. *Common practice*. [s]"""
BLANK_AT_LEAST_S, BLANK_AT_MOST_S = 600, 3600
"""A blank is never sought closer than the first, and never left longer than the second: one that moves must be seen."""


class Doing(StrEnum):
    """What hands do."""

    START = "start"
    READING = "reading"
    BLANK = "blank"


@dataclass(frozen=True, slots=True)
class Hands:
    """How long an act keeps a pair of hands, before and after its moment. [s]"""

    start_before_s: int
    start_after_s: int
    reading_before_s: int
    reading_after_s: int

    def __post_init__(self) -> None:
        if min(self.start_before_s, self.start_after_s, self.reading_before_s, self.reading_after_s) < 0:
            raise ValueError("hands are busy for less than no time: give seconds of 0 or more")

    def around(self, doing: Doing, at_s: int) -> Span:
        """The span in which hands are busy with an act at a moment."""
        if doing is Doing.START:
            return at_s - self.start_before_s, at_s + self.start_after_s
        return at_s - self.reading_before_s, at_s + self.reading_after_s


PACES = {"comfortable": Hands(45, 105, 20, 40), "tight": Hands(40, 80, 15, 20)}
"""Hands by pace: the opening block holds plunges, start, and the readings at 30 s and 60 s. *Common practice*."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody at the bench, and when."""

    name: str
    there: tuple[Span, ...] = ()
    """Spans in which the person works, in order; empty: always."""

    def away(self, until_s: int, from_s: int) -> list[Span]:
        """The spans between `from_s` and `until_s` in which the person is not at the bench."""
        if not self.there:
            return []
        ends = [from_s, *(end for _, end in self.there)]
        starts = [*(start for start, _ in self.there), until_s]
        return [(a, b) for a, b in zip(ends, starts, strict=True) if a < b]


@dataclass(frozen=True, slots=True)
class Rack:
    """Cylinders that stand beside one blank and are read in the same slots: a batch."""

    name: str
    cylinders: tuple[str, ...]
    slots_s: tuple[int, ...]
    started_s: tuple[tuple[str, int], ...] = ()
    """Cylinders that run already, with their start."""
    done_s: tuple[tuple[str, int], ...] = ()
    """Cylinder and slot of each reading that is taken or given up."""

    def __post_init__(self) -> None:
        if not self.slots_s or any(b <= a for a, b in zip(self.slots_s, self.slots_s[1:], strict=False)):
            raise ValueError(f"{self.name}: the slots must rise, one after the other")
        if len(set(self.cylinders)) != len(self.cylinders):
            raise ValueError(f"{self.name}: a cylinder stands in it twice")


@dataclass(frozen=True, slots=True)
class Slide:
    """
    How far a reading may be moved from its slot so that others find place; the true time is used, so it costs no truth.

    It moves the size that the reading speaks of. Where the edition's bounds need a size, that is checked by size.
    """

    pct: float = 0.0
    """Of the elapsed time, either way. [%]"""
    most_size_pct: float = 5.0
    """The size may move by no more than this. [%]"""

    def __post_init__(self) -> None:
        if not 0.0 <= self.pct < 50.0:
            raise ValueError(f"a slide of {self.pct:g} % is not a slide: give 0 to 50 % of the elapsed time")

    def window(self, slot_s: int, grid_s: int) -> Span:
        """Earliest and latest moment after the start for a slot, both in it and on the grid, and the slot itself."""
        share, size = self.pct / 100.0, self.most_size_pct / 100.0
        low = max(slot_s * (1.0 - share), slot_s / (1.0 + size) ** 2)
        high = min(slot_s * (1.0 + share), slot_s / (1.0 - size) ** 2)
        early = slot_s - grid_s * floor((slot_s - low) / grid_s + 1e-9)
        late = slot_s + grid_s * floor((high - slot_s) / grid_s + 1e-9)
        return early, late

    def size_shift_pct(self) -> float:
        """The largest move of a size by this slide. [%]"""
        return min(100.0 * (1.0 / sqrt(1.0 - self.pct / 100.0) - 1.0), self.most_size_pct)


@dataclass(frozen=True, slots=True)
class Day:
    """Everything that is asked of a timetable."""

    people: tuple[Person, ...]
    racks: tuple[Rack, ...]
    hands: Hands = PACES["comfortable"]
    slide: Slide = Slide()
    blank_within_s: int = 3600
    """A reading of the blank no farther than this from each reading of its rack, see `blank_within_s`. [s]"""
    now_s: int = 0
    """Nothing is placed before it but what ran already. [s]"""
    starts_from_s: int = 0
    """No cylinder is started before it, whatever is read before; nor before `now_s`. [s]"""

    def __post_init__(self) -> None:
        if not self.people:
            raise ValueError("a timetable needs at least one person at the bench")
        names = [person.name for person in self.people]
        if len(set(names)) != len(names):
            raise ValueError("two people of one name: call them apart")

    @property
    def first_start_s(self) -> int:
        """The earliest moment of a start. [s]"""
        return max(self.now_s, self.starts_from_s)

    @property
    def grid_s(self) -> int:
        """The step in which moments are sought: five seconds, one where anything given falls between. [s]"""
        given = [*astuple(self.hands), *(start for rack in self.racks for _, start in rack.started_s)]
        given += [slot for rack in self.racks for slot in rack.slots_s]
        return 1 if any(seconds % 5 for seconds in given) else 5


@dataclass(frozen=True, slots=True)
class Act:
    """One act at one moment by one pair of hands."""

    person: str
    rack: str
    cylinder: str
    doing: Doing
    slot_s: int
    at_s: int
    hands_from_s: int
    hands_to_s: int

    @property
    def read_at_s(self) -> int:
        """When something is read in it: in an opening block first at 30 s. [s]"""
        return self.at_s + (FIRST_READ_S if self.doing is Doing.START else 0)


@dataclass(frozen=True, slots=True)
class NotPlaced:
    """A cylinder, or one of its readings, that found no place, and why."""

    rack: str
    cylinder: str
    slot_s: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class Timetable:
    """Acts in order of time, with what could not be placed."""

    acts: tuple[Act, ...]
    not_placed: tuple[NotPlaced, ...] = ()
    lower_bound_s: int = 0
    """No timetable of all placed cylinders starts its last one earlier. [s]"""
    proven: bool = field(default=False)

    @property
    def last_start_s(self) -> int | None:
        """Moment of the last start; None without any. [s]"""
        return max((act.at_s for act in self.acts if act.doing is Doing.START), default=None)


def opening_slots(slots_s: Iterable[int], hands: Hands) -> tuple[int, ...]:
    """The slots read in the opening block, with the hands still at the cylinder from its start."""
    return tuple(slot for slot in slots_s if slot <= hands.start_after_s - LIFT_AND_WIPE_S)


def blank_within_s(
    noise_g_l: float, per_c_g_l: float, wanders_g_l_per_day: float, room_c_per_h: float = ROOM_C_PER_H
) -> int:
    """
    How far in time a blank may be read from a reading it serves, so that this adds little to its own noise.

    Parameters
    ----------
    noise_g_l : standard uncertainty of one reading of the blank. [g/L]
    per_c_g_l : standard uncertainty of what a degree between the two does to a blank. [g/L per C]
    wanders_g_l_per_day : standard deviation of a blank's level after a day, growing with the square root of time.

    Returns
    -------
    The whole minutes, in seconds, at which both together reach `BLANK_SHARE` of the noise; ten minutes to an hour.
    """
    allowed = (BLANK_SHARE * noise_g_l) ** 2
    warm, wander = (per_c_g_l * room_c_per_h) ** 2, wanders_g_l_per_day**2 / 24.0
    # warm h² + wander h = allowed
    hours = (
        allowed / wander if not warm else (-wander + sqrt(wander**2 + 4.0 * warm * allowed)) / (2.0 * warm)
    )
    return min(max(60 * floor(60.0 * hours), BLANK_AT_LEAST_S), BLANK_AT_MOST_S)


def blank_within_of(edition: MethodEdition) -> int:
    """How far in time a blank of this edition may be read from a reading it serves. [s]"""
    noise_g_l = edition.uncertainties.blank_reading_g_l
    return blank_within_s(noise_g_l, SHIFT_SD_G_L_PER_C, WANDERS_G_L_PER_DAY)


def ceil_to(value: float, step: int) -> int:
    """The smallest multiple of a step that is not below a value."""
    return step * ceil(value / step)
