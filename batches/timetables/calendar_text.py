"""
A calendar as text, by RFC 5545: content lines that end with CRLF and are folded at 75 octets; pure.

Sections of RFC 5545: folding 3.1, text 3.3.11, UTC times 3.3.5, UID 3.8.4.7, SEQUENCE 3.8.7.4. Name and refresh
interval of the whole are those of RFC 7986, 5.1 and 5.7.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

MEDIA_TYPE = "text/calendar; charset=utf-8"
LONGEST_LINE = 75
"""Octets of a line, its end not counted. [-]"""
REFRESH = "PT15M"
"""How often a reader is asked to look again; each keeps to its own pace."""


@dataclass(frozen=True)
class Event:
    """One event of a calendar."""

    uid: str
    sequence: int
    stamp: datetime
    start: datetime
    end: datetime
    summary: str
    description: str


def calendar(name: str, events: Iterable[Event]) -> bytes:
    """A whole calendar, as it is sent."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Siltbook//Bench day//EN",
        f"NAME:{escaped(name)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:{REFRESH}",
        *(line for event in events for line in _event(event)),
        "END:VCALENDAR",
    ]
    return b"".join(folded(line) + b"\r\n" for line in lines)


def _event(event: Event) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{escaped(event.uid)}"
    yield f"SEQUENCE:{event.sequence}"
    yield f"DTSTAMP:{utc(event.stamp)}"
    yield f"DTSTART:{utc(event.start)}"
    yield f"DTEND:{utc(event.end)}"
    yield f"SUMMARY:{escaped(event.summary)}"
    yield f"DESCRIPTION:{escaped(event.description)}"
    yield "END:VEVENT"


def utc(moment: datetime) -> str:
    """A moment in UTC, to the second."""
    return f"{moment.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def escaped(text: str) -> str:
    """A text value: backslash, semicolon, comma and line break escaped, other control characters left out."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(sign for sign in lines if sign == "\n" or (ord(sign) >= 32 and ord(sign) != 127))
    for sign in ("\\", ";", ","):
        kept = kept.replace(sign, f"\\{sign}")
    return kept.replace("\n", "\\n")


def folded(line: str) -> bytes:
    """A content line without its end, in pieces of at most 75 octets; no character is split."""
    left, pieces, room = line.encode(), [], LONGEST_LINE
    while len(left) > room:
        cut = room
        while left[cut] & 0xC0 == 0x80:  # an octet within a character
            cut -= 1
        pieces.append(left[:cut])
        left, room = left[cut:], LONGEST_LINE - 1  # the blank of a fold counts
    return b"\r\n ".join([*pieces, left])
