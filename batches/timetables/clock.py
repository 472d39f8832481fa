"""Clock times of the laboratory as moments, clock changes included; pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

Span = tuple[int, int]
"""From, to. [minutes of the day as its clock shows them, or s]"""

MINUTES_OF_A_DAY = 1440
CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})")


def minute_of(text: str) -> int:
    """
    The minute of the day that a clock time names; 24:00 is the end of the day.

    Raises
    ------
    ValueError
        With a sentence, when it is no clock time.
    """
    found = CLOCK.fullmatch(text.strip())
    if found is not None:
        hours, minutes = int(found[1]), int(found[2])
        if minutes < 60 and hours * 60 + minutes <= MINUTES_OF_A_DAY:
            return hours * 60 + minutes
    raise ValueError(f"“{text.strip()}” is not a clock time. Write it like 08:00.")


def read_spans(text: str) -> list[Span]:
    """
    The spans of one day as somebody types them, such as “08:00-12:00, 12:30-16:30”; what lies between is a break.

    Raises
    ------
    ValueError
        With a sentence, when they cannot be read or do not follow each other.
    """
    spans = [_span(part) for part in text.split(",") if part.strip()]
    for (_, end), (start, _) in pairwise(spans):
        if start < end:
            raise ValueError(
                f"{_shown(start)} comes before {_shown(end)}: give the spans in order, none in another."
            )
    return spans


def _span(part: str) -> Span:
    ends = re.split(r"[-–]", part)
    if len(ends) != 2:
        raise ValueError(f"“{part.strip()}” is not a span. Write it like 08:00-12:00.")
    start, end = (minute_of(each) for each in ends)
    if end <= start:
        raise ValueError(
            f"“{part.strip()}” ends before it begins. A night shift is two spans: "
            "one to 24:00, and one from 00:00 on the next day."
        )
    return start, end


def _shown(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


def moment_of(day: date, minute: int, zone: ZoneInfo, *, second_time: bool = False) -> datetime:
    """
    The moment at which the clocks of a zone show a minute of a day, in UTC.

    Parameters
    ----------
    second_time : of a time that comes twice, because the clocks go back, the later one.

    Raises
    ------
    ValueError
        With a sentence, when the clocks go forward over it and never show it.
    """
    shown = datetime.combine(day, time()) + timedelta(minutes=minute)
    moment = shown.replace(tzinfo=zone, fold=int(second_time)).astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) != shown:
        raise ValueError(
            f"The clocks never show {shown:%H:%M} on {shown:%-d %b %Y}: they go forward over it."
        )
    return moment


def seconds_of(day: date, spans: Iterable[Span], zone: ZoneInfo, origin: datetime) -> Iterator[Span]:
    """Spans of a day as seconds from an origin; where the clocks go back, the whole time that they may mean. [s]"""
    for start, end in spans:
        first = moment_of(day, start, zone)
        last = moment_of(day, end, zone, second_time=True)
        yield seconds_from(origin, first), seconds_from(origin, last)


def seconds_from(origin: datetime, moment: datetime) -> int:
    """Whole seconds that have really passed from an origin to a moment, whatever clocks did between. [s]"""
    return round((moment.astimezone(UTC) - origin.astimezone(UTC)).total_seconds())
