"""
Clock times become moments, through nights in which the clocks change.

Source, from memory: Directive 2000/84/EC of the European Union: forward on the last Sunday in March and back on the
last Sunday in October, both at 01:00 UTC. In 2026 those are 29 March and 25 October.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from batches.timetables.clock import minute_of, moment_of, read_spans, seconds_from, seconds_of

OSLO = ZoneInfo("Europe/Oslo")
FORWARD, BACK = date(2026, 3, 29), date(2026, 10, 25)
HOUR = 3600


def test_spans_are_read_as_they_are_typed() -> None:
    assert read_spans("08:00-12:00, 12:30-16:30") == [(480, 720), (750, 990)]
    assert read_spans("8:00–24:00") == [(480, 1440)]
    assert read_spans("  ") == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("8-12", "“8” is not a clock time"),
        ("08:00", "is not a span"),
        ("12:00-08:00", "ends before it begins"),
        ("08:00-08:00", "ends before it begins"),
        ("08:00-12:00, 11:00-13:00", "11:00 comes before 12:00"),
        ("08:60-12:00", "“08:60” is not a clock time"),
        ("08:00-24:01", "“24:01” is not a clock time"),
    ],
)
def test_what_cannot_be_a_span_is_refused_with_what_was_typed(typed: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_spans(typed)


def test_a_day_is_an_hour_shorter_or_longer_when_the_clocks_change() -> None:
    for day, hours in ((FORWARD, 23), (BACK, 25), (date(2026, 6, 1), 24)):
        origin = moment_of(day, 0, OSLO)
        assert list(seconds_of(day, [(0, 1440)], OSLO, origin)) == [(0, hours * HOUR)]


def test_eight_o_clock_after_the_change_is_23_hours_after_eight_o_clock_before() -> None:
    before = moment_of(date(2026, 3, 28), minute_of("08:00"), OSLO)
    assert before == datetime(2026, 3, 28, 7, 0, tzinfo=UTC)
    spans = list(seconds_of(FORWARD, read_spans("08:00-12:00"), OSLO, before))
    assert spans == [(23 * HOUR, 27 * HOUR)]


def test_a_time_that_the_clocks_never_show_is_refused() -> None:
    with pytest.raises(ValueError, match=r"never show 02:30 on 29 Mar 2026"):
        moment_of(FORWARD, minute_of("02:30"), OSLO)


def test_a_time_that_comes_twice_begins_with_the_first_and_ends_with_the_second() -> None:
    origin = moment_of(BACK, 0, OSLO)
    # 02:30 is shown at 00:30 and at 01:30 UTC, 2.5 h and 3.5 h after midnight.
    assert list(seconds_of(BACK, [(150, 240)], OSLO, origin)) == [(9000, 5 * HOUR)]
    assert list(seconds_of(BACK, [(60, 150)], OSLO, origin)) == [(HOUR, 12_600)]


def test_seconds_are_those_that_passed_and_not_those_that_clocks_show() -> None:
    nine = (datetime(2026, 3, day, 9, 0, tzinfo=OSLO) for day in (28, 29))
    assert seconds_from(*nine) == 23 * HOUR
