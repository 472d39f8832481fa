"""
Checks for entries of a client's list that a clerk should question before it is booked.

Each function returns a sentence that says what was seen and what to do, or None.
Nothing is corrected: a person looks at the bag and types again.
"""

from __future__ import annotations

import re
from datetime import date, timedelta

_MONTHS = {
    name: number
    for number, name in enumerate(
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"), start=1
    )
}
_UNIT = r"(?:mm|cm|dm|m|in|inch|inches|ft|foot|feet|[\"'″′])"
_ENDING_UNIT = re.compile(rf"\s*{_UNIT}\.?$", re.IGNORECASE)
_UNIT_AFTER_NUMBER = re.compile(rf"\d\s*{_UNIT}(?![A-Za-z])", re.IGNORECASE)
_LOOSE_NUMBER = re.compile(r"(?<![A-Za-z0-9])\d")
_MONTH_WORD = rf"(?P<month>{'|'.join(_MONTHS)})[a-z]*"
_MONTH_DATES = (
    re.compile(rf"(?P<other>\d{{1,4}})[-/ .]{_MONTH_WORD}([-/ .]\d{{2,4}})?", re.IGNORECASE),
    re.compile(rf"{_MONTH_WORD}[-/ .](?P<other>\d{{1,4}})", re.IGNORECASE),
)
_NUMBER_DATES = (
    re.compile(r"\d{4}[-/.](?P<a>\d{1,2})[-/.](?P<b>\d{1,2})([T ].*)?"),
    re.compile(r"(?P<a>\d{1,2})[-/.](?P<b>\d{1,2})[-/.]\d{2,4}"),
)
_SERIAL = re.compile(r"\d{5}(\.0+)?")
# Day 1 of the usual spreadsheet calendar is 1 January 1900, and it has one day too many in 1900.
_SERIAL_ZERO = date(1899, 12, 30)
_SCIENTIFIC = re.compile(r"[+-]?\d+([.,]\d+)?E[+-]?\d+", re.IGNORECASE)


def _two_readings(first: int, second: int) -> str:
    return f"“{first}-{second}” or “{second}-{first}”"


def _spreadsheet_date(text: str) -> str | None:
    for pattern in _MONTH_DATES:
        if found := pattern.fullmatch(text):
            return _two_readings(_MONTHS[found["month"].lower()], int(found["other"]))
    for pattern in _NUMBER_DATES:
        if found := pattern.fullmatch(text):
            return _two_readings(int(found["a"]), int(found["b"]))
    if _SERIAL.fullmatch(text) and 30_000 <= float(text) <= 60_000:
        day = _SERIAL_ZERO + timedelta(days=int(float(text)))
        return f"{_two_readings(day.month, day.day)} (day {int(float(text))} is {day:%-d %b %Y})"
    return None


def depth_question(text: str) -> str | None:
    """A depth that a spreadsheet made a date of, or a number without its unit."""
    bare = _ENDING_UNIT.sub("", text.strip())
    readings = _spreadsheet_date(bare)
    if readings:
        return (
            f"“{text}” looks like a date made by a spreadsheet. It may have been {readings}. "
            "Look at the bag and type the depth again, with its unit."
        )
    if _LOOSE_NUMBER.search(text) and not _UNIT_AFTER_NUMBER.search(text):
        return (
            f"“{text}” has no unit. Type it as the client means it, for example “{text} cm” or “{text} in”."
        )
    return None


def label_question(text: str) -> str | None:
    """A label that a spreadsheet may have shortened to scientific notation."""
    if _SCIENTIFIC.fullmatch(text.strip()):
        return (
            f"“{text}” looks like a number shortened by a spreadsheet. Read the bag: type its label again, "
            "or tick “Label checked” if the bag says exactly this."
        )
    return None
