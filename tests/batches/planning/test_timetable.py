"""
The timetable of the bench, held against a checker that shares no code with it.

Sources: hands-busy times are *common practice*. The gap of 110 s and its five last moments were reckoned from the
definition of the coupled task (Journal of Scheduling 2015, doi 10.1007/s10951-015-0438-9).
"""

from __future__ import annotations

import json
from io import StringIO
from time import monotonic
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.management.commands.bench_timetable import as_json
from batches.planning.timetable import (
    PACES,
    Act,
    Day,
    Doing,
    Hands,
    Person,
    Rack,
    Slide,
    Timetable,
    better_timetables,
    blank_within_s,
    first_timetable,
)
from tests.support.bench_checker import wrong_with

NINE = (30, 60, 180, 600, 1800, 3600, 5400, 7200, 86_400)
FOUR = (30, 60, 5400, 86_400)
HOUR, DAY = 3600, 86_400


def rack(count: int, slots: tuple[int, ...] = NINE, name: str = "batch 1", **also: Any) -> Rack:
    return Rack(name, tuple(f"{k:02}" for k in range(1, count + 1)), slots, **also)


def wrong(found: Timetable, day: Day, slots: tuple[int, ...] = NINE, pace: str = "comfortable") -> list[str]:
    data = as_json(found, found, 0.0)
    return wrong_with(
        data["acts"],
        slots_s=slots,
        cylinders={each.name: each.cylinders for each in day.racks},
        pace=pace,
        slide_pct=day.slide.pct,
        blank_within_s=day.blank_within_s,
        not_placed=data["not_placed"],
        there={person.name: person.there for person in day.people},
    )


def printed(**options: Any) -> dict[str, Any]:
    out = StringIO()
    call_command("bench_timetable", json=True, stdout=out, **options)
    data: dict[str, Any] = json.loads(out.getvalue())
    return data


@pytest.mark.parametrize(("count", "slide", "slots"), [(24, 0.0, FOUR), (12, 5.0, NINE), (24, 2.0, NINE)])
def test_the_first_timetable_comes_at_once_and_keeps_every_rule(
    count: int, slide: float, slots: tuple[int, ...]
) -> None:
    day = Day((Person("one"),), (rack(count, slots),), slide=Slide(slide))
    found = first_timetable(day)
    assert wrong(found, day, slots) == []
    assert not found.not_placed


def test_four_readings_of_24_cylinders_are_proven_to_start_within_the_hour() -> None:
    data = printed(method="hydrometer-four-2026-4", cylinders=24, seconds=10.0)
    assert data["proven"]
    assert data["last_start_s"] == data["lower_bound_s"] == 57.5 * 60


def test_a_better_timetable_keeps_every_rule_and_is_never_worse_than_the_first() -> None:
    day = Day((Person("one"),), (rack(8),), slide=Slide(5.0))
    first, told = first_timetable(day), list[Timetable]()
    found = better_timetables(day, first, 4.0, seen=told.append)
    assert wrong(found, day) == []
    assert found.lower_bound_s <= (found.last_start_s or 0) < (first.last_start_s or 0)
    assert all(wrong(each, day) == [] for each in told)
    assert told


def test_the_gap_of_a_coupled_task_is_the_published_one() -> None:
    # Stir 60 s, 20 s readings at 90, 180 and 7260 s: 110 s apart, so that n cylinders end at 7280 + 110 (n - 1).
    hands = Hands(0, 60, 0, 20)
    day = Day((Person("one"),), (rack(4, (90, 180, 7260)),), hands=hands, blank_within_s=10 * HOUR)
    found = better_timetables(day, first_timetable(day), 5.0)
    starts = sorted(act.at_s for act in found.acts if act.doing is Doing.START)
    assert starts[-1] == 330
    assert max(act.hands_to_s for act in found.acts if act.doing is Doing.READING) == 7610


def test_two_people_halve_the_starts_and_nobody_does_two_things() -> None:
    one = Day((Person("one"),), (rack(8),), slide=Slide(5.0))
    two = Day((Person("one"), Person("two")), (rack(8),), slide=Slide(5.0))
    alone, both = (better_timetables(day, first_timetable(day), 4.0) for day in (one, two))
    assert wrong(both, two) == []
    assert (both.last_start_s or 0) <= 0.6 * (alone.last_start_s or 0)


def test_two_batches_are_read_each_beside_its_own_blank() -> None:
    day = Day((Person("one"),), (rack(5), rack(5, name="batch 2")), slide=Slide(5.0))
    found = better_timetables(day, first_timetable(day), 3.0)
    assert wrong(found, day) == []
    assert {act.rack for act in found.acts if act.doing is Doing.BLANK} == {"batch 1", "batch 2"}


def test_nobody_works_in_a_break_or_after_the_shift() -> None:
    shift = ((0, 2 * HOUR), (2 * HOUR + 1800, 8 * HOUR), (DAY, DAY + 8 * HOUR))
    day = Day((Person("one", shift),), (rack(6),), slide=Slide(5.0))
    found = better_timetables(day, first_timetable(day), 3.0)
    assert wrong(found, day) == []
    assert not found.not_placed


def test_a_start_whose_last_reading_nobody_would_take_is_told_with_the_reason() -> None:
    friday = ((0, 8 * HOUR),)
    found = first_timetable(Day((Person("one", friday),), (rack(2),)))
    assert [each.cylinder for each in found.not_placed] == ["01", "02"]
    assert "somebody at the bench for its reading 24 h later" in found.not_placed[0].reason


def test_24_cylinders_that_find_no_start_are_told_at_once() -> None:
    day = Day((Person("one", ((0, DAY - HOUR),)),), (rack(24),), slide=Slide(0.5))
    began = monotonic()
    assert len(first_timetable(day).not_placed) == 24
    assert monotonic() - began < 10.0, "minutes, when every moment of ten days is tried for each"


def test_no_start_comes_before_the_first_one_asked_for_and_readings_do() -> None:
    running = rack(4, started_s=(("01", -600),))
    day = Day((Person("one"),), (running,), slide=Slide(5.0), starts_from_s=3 * HOUR)
    first = first_timetable(day)
    for found in (first, better_timetables(day, first, 1.0)):
        assert min(a.at_s for a in found.acts if a.doing is Doing.START) >= 3 * HOUR
        assert min(a.at_s for a in found.acts if a.doing is Doing.READING) < HOUR


def test_each_better_timetable_comes_with_a_bound_of_the_last_start() -> None:
    day, told = Day((Person("one"),), (rack(5),), slide=Slide(5.0)), list[Timetable]()
    found = better_timetables(day, first_timetable(day), 3.0, seen=told.append)
    assert told
    assert all(each.lower_bound_s <= (found.last_start_s or 0) for each in told)


def test_a_cylinder_never_collides_with_itself() -> None:
    # Engineering times: lowering for the 2 min reading begins at 100 s, the opening block ends at 105 s.
    times = (30, 60, 120, 300, 900, 1800, 3600, 14_400, 86_400)
    fixed = first_timetable(Day((Person("one"), Person("two")), (rack(1, times),)))
    assert "2 min" in fixed.not_placed[0].reason
    assert "same cylinder" in fixed.not_placed[0].reason
    sliding = Day((Person("one"), Person("two")), (rack(2, times),), slide=Slide(5.0))
    found = first_timetable(sliding)
    assert wrong(found, sliding, times) == []
    assert not found.not_placed


def test_when_late_the_starts_move_and_the_running_cylinders_do_not() -> None:
    running = rack(4, started_s=(("01", -100), ("02", -1500)), done_s=(("02", 180), ("02", 600)))
    day = Day((Person("one"),), (running,), slide=Slide(5.0), now_s=65)
    found = better_timetables(day, first_timetable(day), 2.0)
    starts = {act.cylinder: act.at_s for act in found.acts if act.doing is Doing.START}
    assert set(starts) == {"03", "04"}
    assert min(starts.values()) >= 65
    reads = {(a.cylinder, a.slot_s): a.at_s for a in found.acts if a.doing is Doing.READING}
    assert 171 - 100 <= reads["01", 180] <= 189 - 100
    assert ("02", 600) not in reads
    assert abs(reads["02", 1800] - 300) <= 90


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(started=st.lists(st.integers(-4000, -110), min_size=1, max_size=4), now_s=st.integers(0, 900))
def test_cylinders_that_run_keep_their_windows_whatever_the_second(started: list[int], now_s: int) -> None:
    starts = sorted({-120 * k + each % 97 for k, each in enumerate(started, start=1)})
    running = tuple((f"{k:02}", start) for k, start in enumerate(starts, start=1))
    day = Day((Person("one"),), (rack(6, started_s=running),), slide=Slide(5.0), now_s=now_s)
    first = first_timetable(day)
    for found in (first, better_timetables(day, first, 0.3)):
        known = [
            {"person": "-", "batch": "batch 1", "cylinder": name, "act": "start", "slot_s": 0, "at_s": at_s,
             "hands_from_s": at_s, "hands_to_s": at_s}
            for name, at_s in running
        ]  # fmt: skip
        acts = as_json(found, found, 0.0)["acts"]
        said = wrong_with(
            [*known, *acts], slots_s=NINE, cylinders={}, slide_pct=5.0, blank_within_s=day.blank_within_s,
            not_placed=as_json(found, found, 0.0)["not_placed"],
        )  # fmt: skip
        assert [each for each in said if "'act': 'start'" not in each and "not asked for" not in each] == []
        assert all(act["at_s"] >= now_s for act in acts)
        told = {(a["cylinder"], a["slot_s"]) for a in acts} | {
            (n.cylinder, n.slot_s) for n in found.not_placed
        }
        assert {(name, slot) for name, _ in running for slot in NINE[2:]} <= told


def test_a_reading_whose_time_is_past_is_told_not_dropped() -> None:
    running = rack(1, started_s=(("01", -1000),))
    found = first_timetable(Day((Person("one"),), (running,), slide=Slide(2.0)))
    assert [(lost.cylinder, lost.slot_s) for lost in found.not_placed] == [("01", 180), ("01", 600)]
    assert "the true time is used" in found.not_placed[0].reason


def test_a_slide_moves_a_size_by_half_its_percent() -> None:
    # d ~ t^-1/2 (Stokes' law): 5 % in time are 2.6 % in size at the early end.
    assert Slide(5.0).size_shift_pct() == pytest.approx(2.6, abs=0.05)
    assert Slide(40.0, most_size_pct=5.0).window(7200, 5) == (6535, 7975)
    assert Slide(0.0).window(7200, 5) == (7200, 7200)


def test_a_blank_serves_as_long_as_time_and_temperature_add_little_to_its_noise() -> None:
    # By hand: (0.05 · 1 · h)² + 0.2² h / 24 = (0.5 · 0.1)² at h = 0.72: 43 min.
    assert blank_within_s(0.1, 0.05, 0.2) == 43 * 60
    assert blank_within_s(0.3, 0.05, 0.2) == HOUR
    assert blank_within_s(0.01, 0.05, 0.2) == 600


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    counts=st.lists(st.integers(1, 9), min_size=1, max_size=3),
    people=st.integers(1, 3),
    pace=st.sampled_from(sorted(PACES)),
    slide=st.sampled_from([0.0, 1.0, 2.0, 5.0, 10.0]),
    slots=st.sampled_from([FOUR, NINE]),
    within=st.sampled_from([900, 1800, 3600]),
    shift=st.sampled_from([(), ((-60, 9 * HOUR), (DAY, DAY + 9 * HOUR)), ((0, HOUR), (2 * HOUR, 30 * HOUR))]),
)
def test_whatever_is_asked_the_checker_finds_nothing_wrong(
    counts: list[int],
    people: int,
    pace: str,
    slide: float,
    slots: tuple[int, ...],
    within: int,
    shift: tuple[tuple[int, int], ...],
) -> None:
    racks = tuple(rack(count, slots, f"batch {k}") for k, count in enumerate(counts))
    day = Day(
        tuple(Person(f"person {k}", shift) for k in range(people)), racks, PACES[pace], Slide(slide), within
    )
    first = first_timetable(day)
    assert wrong(first, day, slots, pace) == []
    better = better_timetables(day, first, 0.2)
    assert wrong(better, day, slots, pace) == []
    assert len(better.not_placed) <= len(first.not_placed)


def test_the_checker_finds_what_is_wrong() -> None:
    day = Day((Person("one"),), (rack(2, FOUR),))
    sound = first_timetable(day)
    act = next(each for each in sound.acts if each.cylinder == "02" and each.doing is Doing.START)
    early = Act(
        act.person, act.rack, "02", Doing.START, 0, act.at_s - 60, act.hands_from_s - 60, act.hands_to_s - 60
    )
    moved = Timetable(tuple(early if each is act else each for each in sound.acts))
    assert any("two things at once" in each for each in wrong(moved, day, FOUR))
    assert any("off its slot" in each for each in wrong(moved, day, FOUR))
    lacking = Timetable(tuple(each for each in sound.acts if each.slot_s != 5400))
    assert any("neither planned" in each for each in wrong(lacking, day, FOUR))
    blankless = Timetable(tuple(each for each in sound.acts if each.doing is not Doing.BLANK))
    assert any("no blank" in each for each in wrong(blankless, day, FOUR))


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"method": "nine"}, "nine is no edition known here"),
        ({"cylinders": 25}, "25 were asked for"),
        ({"people": 0}, "0 people at one bench"),
        ({"slide_pct": 60.0}, "a slide of 60 % is not a slide"),
    ],
)
def test_what_cannot_be_planned_is_refused_with_its_number(options: dict[str, Any], said: str) -> None:
    with pytest.raises(CommandError, match=said):
        printed(**{"method": "hydrometer-nine-2026-4", "seconds": 0.0} | options)
