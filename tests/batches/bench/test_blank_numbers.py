"""Readings that the same reading of the blank serves say so, for they share its error."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

from batches.computing.record import _point
from batches.models import Reading

START = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)


def _reading(after_s: float, shown: str) -> Reading:
    return Reading(
        slot_s=int(after_s),
        elapsed_s=Decimal(str(after_s)),
        taken_at=START + timedelta(seconds=after_s),
        temperature_c=Decimal("21.0"),
        reading=Decimal(shown),
        state="read",
    )


def test_two_early_readings_share_the_blank_read_between_them() -> None:
    blanks = [_reading(86_400.0, "5.0"), _reading(45.0, "4.5")]
    points = [_point(_reading(after_s, "20"), blanks, 0.0) for after_s in (30.0, 60.0, 86_390.0)]
    assert [point.blank_number for point in points] == [1, 1, 0]
    assert [point.blank_reading for point in points] == [4.5, 4.5, 5.0]


def test_no_blank_no_number() -> None:
    assert _point(_reading(30.0, "20"), [], 0.0).blank_number is None
