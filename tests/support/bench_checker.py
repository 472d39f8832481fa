"""
What is wrong with a timetable of the bench, found without the planner: plain loops over its acts.

It shares no code with `batches.planning.timetable`. Every rule is written from the bench: one pair of hands does one
thing at a time, a cylinder is handled by one person at a time, each reading is taken once and inside its window, a
person is there, and each reading has one of its own blank within reach.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Any

BUSY_S = {
    "comfortable": {"start": (45, 105), "reading": (20, 40), "blank": (20, 40)},
    "tight": {"start": (40, 80), "reading": (15, 20), "blank": (15, 20)},
}
"""Seconds of hands before and after an act; *common practice*."""
OPENING_UP_TO_S = 60
"""Readings up to here are taken in the opening block."""

Acts = Sequence[Mapping[str, Any]]


def wrong_with(
    acts: Acts,
    *,
    slots_s: Sequence[int],
    cylinders: Mapping[str, Sequence[str]],
    pace: str = "comfortable",
    slide_pct: float = 0.0,
    blank_within_s: int = 3600,
    not_placed: Acts = (),
    there: Mapping[str, Sequence[tuple[int, int]]] | None = None,
) -> list[str]:
    """Everything that a bench could not do as written, in words; empty for a sound timetable."""
    return [
        *_hands(acts, pace),
        *_overlaps(acts, "person", lambda act: act["person"]),
        *_overlaps(
            [a for a in acts if a["act"] != "blank"], "cylinder", lambda a: (a["batch"], a["cylinder"])
        ),
        *_complete(acts, slots_s, cylinders, not_placed),
        *_windows(acts, slide_pct),
        *_blanks(acts, blank_within_s, not_placed),
        *_presence(acts, there or {}),
    ]


def _hands(acts: Acts, pace: str) -> Iterator[str]:
    for act in acts:
        before, after = BUSY_S[pace][act["act"]]
        if (act["hands_from_s"], act["hands_to_s"]) != (act["at_s"] - before, act["at_s"] + after):
            yield f"hands of {act} are not those of the pace"


def _overlaps(acts: Acts, what: str, whose: Any) -> Iterator[str]:
    held = defaultdict(list)
    for act in acts:
        held[whose(act)].append(act)
    for owner, theirs in held.items():
        for one, other in combinations(theirs, 2):
            if one["hands_from_s"] < other["hands_to_s"] and other["hands_from_s"] < one["hands_to_s"]:
                yield f"{what} {owner} does two things at once: {one} and {other}"


def _complete(
    acts: Acts, slots_s: Sequence[int], cylinders: Mapping[str, Sequence[str]], not_placed: Acts
) -> Iterator[str]:
    late = [slot for slot in slots_s if slot > OPENING_UP_TO_S]
    done = Counter((a["batch"], a["cylinder"], a["act"], a["slot_s"]) for a in acts if a["act"] != "blank")
    lost = {(each["batch"], each["cylinder"]) for each in not_placed}
    wanted = {
        key
        for batch, names in cylinders.items()
        for name in names
        if (batch, name) not in lost
        for key in [(batch, name, "start", 0), *((batch, name, "reading", slot) for slot in late)]
    }
    for key in wanted - set(done):
        yield f"{key} is neither planned nor told as not placed"
    for key in set(done) - wanted:
        yield f"{key} is planned and was not asked for"
    yield from (f"{key} is planned {count} times" for key, count in done.items() if count > 1)


def _windows(acts: Acts, slide_pct: float) -> Iterator[str]:
    starts = {(a["batch"], a["cylinder"]): a["at_s"] for a in acts if a["act"] == "start"}
    for act in acts:
        if act["act"] != "reading":
            continue
        elapsed = act["at_s"] - starts[act["batch"], act["cylinder"]]
        if abs(elapsed - act["slot_s"]) * 100.0 > slide_pct * act["slot_s"] + 1e-6:
            yield f"{act} is {elapsed - act['slot_s']} s off its slot"


def _blanks(acts: Acts, within_s: int, not_placed: Acts) -> Iterator[str]:
    lost = {each["batch"] for each in not_placed if each["cylinder"] == "blank"}
    for act in acts:
        if act["act"] == "blank" or act["batch"] in lost:
            continue
        read_at = act["at_s"] + (30 if act["act"] == "start" else 0)
        if not any(
            abs(b["at_s"] - read_at) <= within_s
            for b in acts
            if b["act"] == "blank" and b["batch"] == act["batch"]
        ):
            yield f"{act} has no blank within {within_s} s"


def _presence(acts: Acts, there: Mapping[str, Sequence[tuple[int, int]]]) -> Iterator[str]:
    for act in acts:
        spans = there.get(act["person"])
        if spans and not any(a <= act["hands_from_s"] and act["hands_to_s"] <= b for a, b in spans):
            yield f"{act['person']} is not at the bench for {act}"
