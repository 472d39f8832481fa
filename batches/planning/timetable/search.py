"""
The better timetable: a constraint model of the same acts, searched for the earliest last start, then the least slide.

Solver: CP-SAT of OR-Tools. Intervals that may not overlap stand for hands; the first timetable is its hint, so that it
can only get better. Its bound is printed beside, also when time ran out before it was reached.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from ortools.sat.python import cp_model

from batches.planning.timetable.day import Act, Day, Doing, Rack, Timetable, ceil_to
from batches.planning.timetable.first_fit import LONGEST_S, first_timetable, left_slots, waiting

PACK = 4
"""Cylinders placed at a time before all are moved at once. [-]"""
PACKS_SHARE, SLIDES_SHARE = 0.5, 0.15
"""Of the time there is, what goes to the packs and to the slides; the rest goes to all starts at once. [-]"""
CORES = 2


@dataclass(slots=True)
class _Moment:
    """One act of the model: its moment and who may do it."""

    act: Act
    at: Any
    """Moment on the grid, an affine expression."""
    by: dict[str, Any] = field(default_factory=dict)
    """Literal of each person; empty where there is only one."""


class _Model:
    """The constraint model of one day, built around the first timetable, in steps of the grid."""

    def __init__(self, day: Day, first: Timetable, fixed: Collection[tuple[str, str]] = ()) -> None:
        self.day, self.first, self.fixed = day, first, set(fixed)
        self.model = cp_model.CpModel()
        self.now, self.horizon = (
            ceil_to(day.now_s, day.grid_s) // day.grid_s,
            (day.first_start_s + LONGEST_S) // day.grid_s,
        )
        self.earliest = ceil_to(day.first_start_s, day.grid_s) // day.grid_s
        self.moments: list[_Moment] = []
        self.in_hands: dict[str, list[Any]] = defaultdict(list)
        self.last = self.model.new_int_var(0, self.horizon, "last start")
        self.slides: list[Any] = []
        placed = {(act.rack, act.cylinder, act.slot_s, act.doing): act for act in first.acts}
        for rack in day.racks:
            self._rack(rack, placed)
            self._blanks(rack)
        self._away()
        for intervals in self.in_hands.values():
            self.model.add_no_overlap(intervals)

    def _grid(self, seconds: int) -> int:
        return seconds // self.day.grid_s

    def _moment(self, act: Act, at: Any, own: list[Any] | None = None) -> _Moment:
        """One act at a moment; hands and, where given, the cylinder itself are taken for as long as it lasts."""
        before, after = (abs(s) for s in self.day.hands.around(act.doing, 0))
        size = self._grid(before + after)
        start, name = at - self._grid(before), f"{act.rack} {act.cylinder} {act.doing} {act.slot_s}"
        moment = _Moment(act, at)
        interval = self.model.new_fixed_size_interval_var(start, size, name)
        if own is not None:
            own.append(interval)
        if len(self.day.people) == 1:
            self.in_hands[self.day.people[0].name].append(interval)
        else:
            for person in self.day.people:
                literal = self.model.new_bool_var(f"{name} by {person.name}")
                moment.by[person.name] = literal
                self.model.add_hint(literal, act.person == person.name)
                self.in_hands[person.name].append(
                    self.model.new_optional_fixed_size_interval_var(start, size, literal, name)
                )
            self.model.add_exactly_one(moment.by.values())
        self.moments.append(moment)
        return moment

    def _rack(self, rack: Rack, placed: Mapping[tuple[str, str, int, Doing], Act]) -> None:
        for cylinder, start_s in rack.started_s:
            self._readings(rack, cylinder, self._grid(start_s), placed, [])
        acts = [placed.get((rack.name, cylinder, 0, Doing.START)) for cylinder in waiting(rack)]
        before: Any = None
        for act in sorted((act for act in acts if act is not None), key=_when):
            own: list[Any] = []
            start = self._variable(f"start of {rack.name} {act.cylinder}", act.at_s)
            self._moment(act, start, own)
            self.model.add(self.last >= start)
            if (rack.name, act.cylinder) in self.fixed:
                self.model.add(start == self._grid(act.at_s))
            else:
                # Cylinders of one rack are alike: their order is no choice.
                self.model.add(start >= (self.earliest if before is None else before))
                before = start
            self._readings(rack, act.cylinder, start, placed, own)

    def _variable(self, name: str, hint_s: int) -> Any:
        variable = self.model.new_int_var(self.now, self.horizon, name)
        self.model.add_hint(variable, self._grid(hint_s))
        return variable

    def _readings(
        self,
        rack: Rack,
        cylinder: str,
        start: Any,
        placed: Mapping[tuple[str, str, int, Doing], Act],
        own: list[Any],
    ) -> None:
        for slot in left_slots(rack, cylinder, self.day):
            act = placed.get((rack.name, cylinder, slot, Doing.READING))
            if act is None:
                continue
            early, late = (self._grid(s) for s in self.day.slide.window(slot, self.day.grid_s))
            if early == late:
                self._moment(act, start + early, own)
                continue
            at = self._variable(f"{rack.name} {cylinder} at {slot}", act.at_s)
            self.model.add(at >= start + early)
            self.model.add(at <= start + late)
            self._moment(act, at, own)
            slide = self.model.new_int_var(0, max(late - early, 1), "slide")
            self.model.add_abs_equality(slide, at - start - self._grid(slot))
            self.slides.append(slide)
        self.model.add_no_overlap(own)

    def _blanks(self, rack: Rack) -> None:
        """The blanks of the first timetable, moved freely as long as each still serves the readings it served."""
        within = self._grid(self.day.blank_within_s)
        blanks = sorted(
            (a for a in self.first.acts if a.rack == rack.name and a.doing is Doing.BLANK), key=_when
        )
        if not blanks:
            return
        ats = [self._variable(f"blank {k} of {rack.name}", blank.at_s) for k, blank in enumerate(blanks)]
        for blank, at in zip(blanks, ats, strict=True):
            self._moment(blank, at)
        served = [
            m
            for m in self.moments
            if m.act.rack == rack.name and m.act.doing is not Doing.BLANK and self._has_one(blanks, m.act)
        ]
        for chain in self._chains(blanks):
            inside = [m for m in served if self._nearest(blanks, m.act) in chain]
            for one, other in pairwise(chain):
                self.model.add(ats[other] > ats[one])
                self.model.add(ats[other] - ats[one] <= 2 * within)
            for moment in inside:
                self.model.add(ats[chain[0]] <= self._read(moment) + within)
                self.model.add(self._read(moment) <= ats[chain[-1]] + within)
            self._among(inside, [(blanks[place], ats[place]) for place in chain])

    def _among(self, inside: Sequence[_Moment], blanks: Sequence[tuple[Act, Any]]) -> None:
        """A blank that stood between the first and the last reading it serves stays between them."""
        if not inside:
            return
        first, last = (pick(inside, key=lambda m: m.act.read_at_s) for pick in (min, max))
        for act, at in blanks:
            if act.at_s >= first.act.read_at_s:
                self.model.add(at >= self._read(first))
            if act.at_s <= last.act.read_at_s:
                self.model.add(at <= self._read(last))

    def _chains(self, blanks: Sequence[Act]) -> list[list[int]]:
        """Blanks that follow each other closely enough that every moment between two has one near it."""
        chains: list[list[int]] = [[0]]
        for place, (one, other) in enumerate(pairwise(blanks), start=1):
            if other.at_s - one.at_s > 2 * self.day.blank_within_s:
                chains.append([])
            chains[-1].append(place)
        return chains

    def _nearest(self, blanks: Sequence[Act], act: Act) -> int:
        return min(range(len(blanks)), key=lambda place: abs(blanks[place].at_s - act.read_at_s))

    def _read(self, moment: _Moment) -> Any:
        return moment.at + self._grid(moment.act.read_at_s - moment.act.at_s)

    def _has_one(self, blanks: Sequence[Act], act: Act) -> bool:
        """Whether a blank serves an act in the timetable that the model starts from."""
        return abs(blanks[self._nearest(blanks, act)].at_s - act.read_at_s) <= self.day.blank_within_s

    def _away(self) -> None:
        for person in self.day.people:
            for start_s, end_s in person.away(
                self.day.first_start_s + 2 * LONGEST_S, self.day.now_s - LONGEST_S
            ):
                start, end = self._grid(start_s), -(-end_s // self.day.grid_s)
                self.in_hands[person.name].append(
                    self.model.new_fixed_size_interval_var(start, end - start, f"{person.name} away")
                )


def better_timetables(
    day: Day, first: Timetable, seconds: float, *, seen: Callable[[Timetable], None] = lambda _: None
) -> Timetable:
    """
    The best timetable found in the time there is; never worse than the first.

    Packs of cylinders are placed one after the other, each as early as the ones before allow; then everything at once;
    then, with the last start kept, the readings are moved back towards their slots.

    Parameters
    ----------
    seconds : how long to search. [s]
    seen : called with each better timetable while the search goes on.

    Raises
    ------
    RuntimeError
        When the model refuses the timetable it starts from: the two disagree on what a bench can keep.
    """
    if first.last_start_s is None:
        return first
    found = first
    packed = _packed(day, seconds * PACKS_SHARE)
    if packed is not None and len(packed.not_placed) <= len(first.not_placed):
        found = min(first, packed, key=lambda each: each.last_start_s or 0)
        seen(found)
    built = _Model(day, found)
    built.model.minimize(built.last)
    found, bound, proven = _solve(built, seconds * (1.0 - PACKS_SHARE - SLIDES_SHARE), found, seen)
    if built.slides:
        built = _Model(day, found)
        built.model.add(built.last <= (found.last_start_s or 0) // day.grid_s)
        built.model.minimize(sum(built.slides))
        so_far = (bound * day.grid_s, proven)
        found, _, _ = _solve(built, seconds * SLIDES_SHARE, found, seen, of_starts=so_far)
    return Timetable(found.acts, found.not_placed, bound * day.grid_s, proven)


def _packed(day: Day, seconds: float) -> Timetable | None:
    """Cylinders placed in packs, each with the starts before it fixed and their readings free to slide."""
    queue = [(rack.name, cylinder) for rack in day.racks for cylinder in waiting(rack)]
    packs = [queue[: k + PACK] for k in range(0, len(queue), PACK)]
    found: Timetable | None = None
    for pack in packs:
        part = replace(day, racks=tuple(_part(rack, pack) for rack in day.racks))
        kept = () if found is None else found.acts
        first = first_timetable(part, kept)
        built = _Model(part, first, {(a.rack, a.cylinder) for a in kept if a.doing is Doing.START})
        built.model.minimize(built.last)
        found, _, _ = _solve(built, seconds / len(packs), first, lambda _: None)
    return found


def _part(rack: Rack, pack: Collection[tuple[str, str]]) -> Rack:
    running = {cylinder for cylinder, _ in rack.started_s}
    kept = tuple(c for c in rack.cylinders if c in running or (rack.name, c) in pack)
    return replace(rack, cylinders=kept)


def _solve(
    built: _Model,
    seconds: float,
    before: Timetable,
    seen: Callable[[Timetable], None],
    of_starts: tuple[int, bool] | None = None,
) -> tuple[Timetable, int, bool]:
    """
    Timetable, bound on the grid, and whether nothing better exists.

    `of_starts` is the bound of the last start and whether it is reached, where something else is minimised.
    """
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(seconds, 0.05)
    solver.parameters.num_workers = CORES
    status = solver.solve(built.model, _Watcher(built, before, seen, of_starts))
    if status in (cp_model.INFEASIBLE, cp_model.MODEL_INVALID):
        raise RuntimeError("the model of the timetable refuses a timetable that the bench can keep")
    bound = max(round(solver.best_objective_bound), 0)
    if status == cp_model.UNKNOWN:
        return before, bound, False
    acts = tuple(sorted(_acts(built, solver.value), key=_when))
    return Timetable(acts, before.not_placed), bound, status == cp_model.OPTIMAL


def _acts(built: _Model, value: Callable[[Any], int]) -> Iterator[Act]:
    day = built.day
    for moment in built.moments:
        at_s = int(value(moment.at)) * day.grid_s
        person = next((name for name, by in moment.by.items() if value(by)), moment.act.person)
        start_s, end_s = day.hands.around(moment.act.doing, at_s)
        yield Act(
            person,
            moment.act.rack,
            moment.act.cylinder,
            moment.act.doing,
            moment.act.slot_s,
            at_s,
            start_s,
            end_s,
        )


class _Watcher(cp_model.CpSolverSolutionCallback):
    """Hands on each better timetable as it is found."""

    def __init__(
        self,
        built: _Model,
        before: Timetable,
        seen: Callable[[Timetable], None],
        of_starts: tuple[int, bool] | None,
    ) -> None:
        super().__init__()
        self.built, self.before, self.seen, self.of_starts = built, before, seen, of_starts

    def on_solution_callback(self) -> None:
        acts = tuple(sorted(_acts(self.built, self.value), key=_when))
        bound_s = max(round(self.best_objective_bound), 0) * self.built.day.grid_s
        self.seen(Timetable(acts, self.before.not_placed, *(self.of_starts or (bound_s, False))))


def _when(act: Act) -> tuple[int, str]:
    return act.at_s, act.cylinder
