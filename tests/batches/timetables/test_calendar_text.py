"""
A calendar as text: octets reckoned by hand from RFC 5545, and an independent reader of the format.

The reader is the package `icalendar`.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from batches.timetables.calendar_text import Event, calendar, escaped, folded, utc

NINE = datetime(2026, 3, 29, 9, 0, tzinfo=UTC)
TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=200)


def event(**other: object) -> Event:
    given = {
        "uid": "start-1@lab.example",
        "sequence": 3,
        "stamp": NINE,
        "start": NINE,
        "end": NINE + timedelta(seconds=105),
        "summary": "Cylinder C02: start",
        "description": "Batch B26-0001",
    }
    return Event(**(given | other))  # type: ignore[arg-type]


def unfolded(sent: bytes) -> bytes:
    """RFC 5545, 3.1: a line break followed by one blank is taken away."""
    return sent.replace(b"\r\n ", b"")


def test_the_octets_of_a_whole_calendar() -> None:
    assert calendar("Bench day", [event()]) == (
        b"BEGIN:VCALENDAR\r\n"
        b"VERSION:2.0\r\n"
        b"PRODID:-//Siltbook//Bench day//EN\r\n"
        b"NAME:Bench day\r\n"
        b"REFRESH-INTERVAL;VALUE=DURATION:PT15M\r\n"
        b"BEGIN:VEVENT\r\n"
        b"UID:start-1@lab.example\r\n"
        b"SEQUENCE:3\r\n"
        b"DTSTAMP:20260329T090000Z\r\n"
        b"DTSTART:20260329T090000Z\r\n"
        b"DTEND:20260329T090145Z\r\n"
        b"SUMMARY:Cylinder C02: start\r\n"
        b"DESCRIPTION:Batch B26-0001\r\n"
        b"END:VEVENT\r\n"
        b"END:VCALENDAR\r\n"
    )


def test_times_are_in_utc_whatever_zone_they_come_in_and_the_computer_keeps(monkeypatch: Any) -> None:
    summer = timezone(timedelta(hours=2))
    with monkeypatch.context() as elsewhere:
        elsewhere.setenv("TZ", "Asia/Tokyo")
        time.tzset()
        written = utc(datetime(2026, 3, 29, 11, 0, tzinfo=summer))
    time.tzset()
    assert written == "20260329T090000Z"


def test_backslash_semicolon_comma_and_line_break_are_escaped_and_the_colon_is_not() -> None:
    # RFC 5545, 3.3.11.
    assert escaped("a\\b;c,d\ne:f") == "a\\\\b\\;c\\,d\\ne:f"
    assert escaped("a\r\nb\rc\x00d\x7f") == "a\\nb\\ncd"


def test_a_line_of_75_octets_stays_whole_and_one_of_76_is_folded() -> None:
    assert folded("X" * 75) == b"X" * 75
    assert folded("X" * 76) == b"X" * 75 + b"\r\n X"
    assert folded("X" * 150) == b"X" * 75 + b"\r\n " + b"X" * 74 + b"\r\n X"


def test_a_fold_splits_no_character() -> None:
    line = "SUMMARY:" + "Größe µm " * 12
    sent = folded(line)
    pieces = sent.split(b"\r\n")
    assert [piece.decode() for piece in pieces]
    assert max(map(len, pieces)) <= 75
    assert len(pieces) == 3
    assert unfolded(sent) == line.encode()
    # 74 octets and a character of two octets: the fold comes before it.
    assert folded("X" * 74 + "ö") == b"X" * 74 + "\r\n ö".encode()


@given(text=TEXT)
def test_whatever_stands_in_it_lines_are_short_and_come_back(text: str) -> None:
    sent = folded(text)
    for piece in sent.split(b"\r\n"):
        assert len(piece) <= 75
        piece.decode()
    assert unfolded(sent) == text.encode()


@given(summary=TEXT, description=st.text(st.sampled_from("ab\\;,:\nµ "), max_size=120))
def test_an_independent_reader_finds_what_was_written(summary: str, description: str) -> None:
    read = Calendar.from_ical(calendar("Bench day", [event(summary=summary, description=description)]))
    (found,) = read.walk("VEVENT")
    assert str(found["SUMMARY"]) == summary
    assert str(found["DESCRIPTION"]) == description
    assert (found.decoded("DTSTART"), found.decoded("DTEND")) == (NINE, NINE + timedelta(seconds=105))
    assert found["SEQUENCE"] == 3
