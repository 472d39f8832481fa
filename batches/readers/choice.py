"""Which readings are read by a second person too: drawn by checksum, one in twenty of those that can be."""

from __future__ import annotations

from collections.abc import Iterable

from batches.planning.places import checksum

ONE_IN = 20
"""*Common practice*: one reading in twenty is read again by another person."""
WITHIN_S = 10.0
"""The second person reads within so many seconds of the first. *Common practice*. [s]"""
FROM_S = 600
"""
Earlier, the soil falls between the two looks by as much as people may differ. [s]

A soil that loses all of 40 g/L within one decade of time falls by 40 log10(610/600) = 0.29 g/L in the ten seconds after
10 min, and by 0.94 g/L in those after 3 min; no soil falls faster without having flocculated.
"""
LIMIT_G_L = 0.5
"""Two people may differ by one graduation. *Common practice*. [g/L]"""


def is_asked(batch_number: str, cylinder: str, slot_s: int) -> bool:
    """
    Whether a second person is asked to read this cylinder at this slot too.

    >>> sum(
    ...     is_asked("B26-0001", f"C{n:02d}", slot)
    ...     for n in range(24)
    ...     for slot in (600, 1800, 5400, 7200, 86400)
    ... )
    5
    """
    return slot_s >= FROM_S and int(checksum("second", batch_number, cylinder, slot_s)[:8], 16) % ONE_IN == 0


def asked_slots(batch_number: str, cylinder: str, schedule_s: Iterable[float]) -> list[int]:
    """Slots of a cylinder that a second person reads too."""
    return [int(slot) for slot in schedule_s if is_asked(batch_number, cylinder, int(slot))]
