"""Remedies on records: what a record would be if a cause were true. Nothing is stored, nothing is decided."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from particles.distribution.inputs.blank_series import blank_series
from particles.distribution.record import ReadingPoint, ReadingState, RunRecord


def exchanged(
    one: RunRecord, other: RunRecord, slots: Iterable[int], *, with_sieves: bool = False
) -> tuple[RunRecord, RunRecord]:
    """
    Two records with the readings of some slots exchanged: time, temperature, state and blank go with a reading.

    Parameters
    ----------
    slots : indices that both records hold.
    with_sieves : whether the sand washed out of the cylinders goes with them.
    """
    wanted = set(slots)
    mine = tuple(b if k in wanted else a for k, (a, b) in _both(one, other))
    theirs = tuple(a if k in wanted else b for k, (a, b) in _both(one, other))
    first, second = _with(one, mine), _with(other, theirs)
    if len(wanted) >= min(len(one.readings), len(other.readings)):
        # The blank's readings count from the time zero of the cylinder whose readings they serve.
        first, second = replace(first, blanks=other.blanks), replace(second, blanks=one.blanks)
    if with_sieves:
        first, second = replace(first, sieving=other.sieving), replace(second, sieving=one.sieving)
    return first, second


def left_out(record: RunRecord, slots: Iterable[int]) -> RunRecord:
    """A record whose readings of some slots count as missed."""
    gone = set(slots)
    return _with(
        record,
        tuple(
            replace(point, state=ReadingState.MISSED, reading=None) if k in gone else point
            for k, point in enumerate(record.readings)
        ),
    )


def with_mass(record: RunRecord, air_dry_g: float) -> RunRecord:
    """A record of another mass of the portion; an oven-dry mass changes in the same ratio."""
    if record.oven_dry_mass_g is None:
        return replace(record, air_dry_mass_g=air_dry_g)
    ratio = air_dry_g / (record.air_dry_mass_g or record.oven_dry_mass_g)
    return replace(record, oven_dry_mass_g=record.oven_dry_mass_g * ratio)


def with_blank_moved(record: RunRecord, slots: Iterable[int], by_units: float) -> RunRecord:
    """A record whose blanks of some slots are higher by so many scale units."""
    moved = set(slots)
    if record.blanks:
        places = [each.index for each in blank_series(record)]
        blanks = (
            replace(blank, reading=blank.reading + by_units) if place in moved else blank
            for blank, place in zip(record.blanks, places, strict=True)
        )
        return replace(record, blanks=tuple(blanks))
    return _with(
        record,
        tuple(
            replace(point, blank_reading=point.blank_reading + by_units)
            if k in moved and point.blank_reading is not None
            else point
            for k, point in enumerate(record.readings)
        ),
    )


def _both(one: RunRecord, other: RunRecord) -> Iterable[tuple[int, tuple[ReadingPoint, ReadingPoint]]]:
    return enumerate(zip(one.readings, other.readings, strict=False))


def _with(record: RunRecord, readings: tuple[ReadingPoint, ...]) -> RunRecord:
    return replace(record, readings=readings)
