"""Prints when each cylinder of a bench day is started and read; needs no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from time import monotonic
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.planning.timetable import (
    PACES,
    Day,
    Person,
    Rack,
    Slide,
    Timetable,
    better_timetables,
    blank_within_of,
    first_timetable,
)
from particles.distribution import METHOD_EDITIONS, MethodEdition
from particles.distribution.spoken import spoken_time

MOST_IN_A_BATCH = 24


class Command(BaseCommand):
    """Prints the timetable of one or more batches for one or more people."""

    help = "Prints when each cylinder is started and read, so that no pair of hands does two things at once."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What is to be planned, and for how long better timetables are sought."""
        parser.add_argument("--method", required=True, help="code of the method's edition")
        parser.add_argument("--cylinders", type=int, default=12, help="of one batch, its blank not counted")
        parser.add_argument(
            "--batches", type=int, nargs="+", help="cylinders of each batch, in the place of one"
        )
        parser.add_argument("--people", type=int, default=1)
        parser.add_argument("--pace", choices=sorted(PACES), default="comfortable")
        parser.add_argument("--slide-pct", type=float, default=0.0, help="of the elapsed time, either way")
        parser.add_argument(
            "--seconds", type=float, default=10.0, help="how long to search; 0: first fit alone"
        )
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        """Plan, and print acts or a table."""
        edition = METHOD_EDITIONS.get(options["method"])
        if edition is None:
            known = ", ".join(sorted(METHOD_EDITIONS))
            raise CommandError(f"{options['method']} is no edition known here. Known are: {known}.")
        day = asked_day(edition, options)
        began = monotonic()
        first = first_timetable(day)
        first_after_s = monotonic() - began
        found = better_timetables(day, first, options["seconds"]) if options["seconds"] > 0 else first
        if options["json"]:
            self.stdout.write(json.dumps(as_json(found, first, first_after_s), indent=1))
            return
        self._table(found, first, first_after_s, day)

    def _table(self, found: Timetable, first: Timetable, first_after_s: float, day: Day) -> None:
        self.stdout.write(f"{'at':>9}  {'hands':>19}  {'person':10} {'batch':8} {'cylinder':9} what")
        for act in found.acts:
            what = "read" if act.slot_s else str(act.doing)
            slot = f" {spoken_time(act.slot_s)}" if act.slot_s else ""
            hands = f"{clock(act.hands_from_s)}-{clock(act.hands_to_s)}"
            self.stdout.write(
                f"{clock(act.at_s):>9}  {hands:>19}  {act.person:10} {act.rack:8} {act.cylinder:9} {what}{slot}"
            )
        for lost in found.not_placed:
            slot = "" if lost.slot_s is None else f", {spoken_time(lost.slot_s)}"
            self.stdout.write(f"not placed: {lost.rack}, {lost.cylinder}{slot}: {lost.reason}")
        last = found.last_start_s
        self.stdout.write(
            f"\nlast start {minutes(last)}, no plan before {minutes(found.lower_bound_s)}"
            f"{' (proven)' if found.proven else ''}; first answer {minutes(first.last_start_s)} "
            f"after {first_after_s:.2f} s; a slide of {day.slide.pct:g} % moves a size by at most "
            f"{day.slide.size_shift_pct():.1f} %; a blank within {day.blank_within_s // 60} min of each reading"
        )


def asked_day(edition: MethodEdition, options: dict[str, Any]) -> Day:
    """The day that the options ask for."""
    counts = options["batches"] or [options["cylinders"]]
    if min(counts) < 1 or max(counts) > MOST_IN_A_BATCH:
        raise CommandError(f"A batch holds 1 to {MOST_IN_A_BATCH} cylinders; {max(counts)} were asked for.")
    if not 1 <= options["people"] <= 8:
        raise CommandError(f"{options['people']} people at one bench: give 1 to 8.")
    slots = tuple(round(slot) for slot in edition.schedule_s)
    racks = tuple(
        Rack(f"batch {place}", tuple(f"{k:02}" for k in range(1, count + 1)), slots)
        for place, count in enumerate(counts, start=1)
    )
    people = tuple(Person(f"person {k}") for k in range(1, options["people"] + 1))
    try:
        slide = Slide(options["slide_pct"])
    except ValueError as error:
        raise CommandError(str(error)) from error
    return Day(people, racks, PACES[options["pace"]], slide, blank_within_of(edition))


def as_json(found: Timetable, first: Timetable, first_after_s: float) -> dict[str, Any]:
    """A timetable as data: times in seconds from the first start."""
    acts = [
        {
            "person": act.person,
            "batch": act.rack,
            "cylinder": act.cylinder,
            "act": str(act.doing),
            "slot_s": act.slot_s,
            "at_s": act.at_s,
            "hands_from_s": act.hands_from_s,
            "hands_to_s": act.hands_to_s,
        }
        for act in found.acts
    ]
    lost = [
        {"batch": each.rack, "cylinder": each.cylinder, "slot_s": each.slot_s, "reason": each.reason}
        for each in found.not_placed
    ]
    return {
        "acts": acts,
        "last_start_s": found.last_start_s,
        "lower_bound_s": found.lower_bound_s,
        "proven": found.proven,
        "not_placed": lost,
        "first_last_start_s": first.last_start_s,
        "first_after_s": round(first_after_s, 3),
    }


def clock(seconds: int) -> str:
    """Hours, minutes and seconds from the first start."""
    sign, whole = ("-" if seconds < 0 else ""), abs(seconds)
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}"


def minutes(seconds: int | None) -> str:
    """Seconds in minutes; a dash for none."""
    return "-" if seconds is None else f"{seconds / 60:.1f} min"
