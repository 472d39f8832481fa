"""A day that was asked for, and what was found for it, in plain values as they are stored."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from batches.planning.timetable import PACES, Act, Day, Doing, NotPlaced, Person, Rack, Slide, Timetable


def day_to_plain(day: Day, pace: str) -> dict[str, Any]:
    """A day in plain values; its hands by the name of their pace."""
    return {
        "people": [
            {"name": person.name, "there": [list(span) for span in person.there]} for person in day.people
        ],
        "racks": [
            {
                "name": rack.name,
                "cylinders": list(rack.cylinders),
                "slots_s": list(rack.slots_s),
                "started_s": dict(rack.started_s),
                "done_s": [list(each) for each in rack.done_s],
            }
            for rack in day.racks
        ],
        "pace": pace,
        "slide_pct": day.slide.pct,
        "blank_within_s": day.blank_within_s,
        "now_s": day.now_s,
        "starts_from_s": day.starts_from_s,
    }


def day_from_plain(plain: dict[str, Any]) -> Day:
    """The day that plain values hold."""
    return Day(
        people=tuple(
            Person(each["name"], tuple((start, end) for start, end in each["there"]))
            for each in plain["people"]
        ),
        racks=tuple(
            Rack(
                each["name"],
                tuple(each["cylinders"]),
                tuple(each["slots_s"]),
                tuple(each["started_s"].items()),
                tuple((cylinder, slot_s) for cylinder, slot_s in each["done_s"]),
            )
            for each in plain["racks"]
        ),
        hands=PACES[plain["pace"]],
        slide=Slide(plain["slide_pct"]),
        blank_within_s=plain["blank_within_s"],
        now_s=plain["now_s"],
        starts_from_s=plain["starts_from_s"],
    )


def acts_to_plain(found: Timetable) -> list[dict[str, Any]]:
    """Acts of a timetable in plain values."""
    return [asdict(act) | {"doing": act.doing.value} for act in found.acts]


def acts_from_plain(plain: list[dict[str, Any]]) -> tuple[Act, ...]:
    """The acts that plain values hold."""
    return tuple(Act(**{**each, "doing": Doing(each["doing"])}) for each in plain)


def lost_to_plain(found: Timetable) -> list[dict[str, Any]]:
    """What found no place, in plain values."""
    return [asdict(each) for each in found.not_placed]


def lost_from_plain(plain: list[dict[str, Any]]) -> tuple[NotPlaced, ...]:
    """What found no place, from plain values."""
    return tuple(NotPlaced(**each) for each in plain)
