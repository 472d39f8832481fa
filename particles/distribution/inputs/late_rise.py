"""A reading that rises late in the day: salts, gel, crystals or the instrument, never too much soil."""

from __future__ import annotations

from particles.distribution.record import ReadingState, RunRecord
from particles.distribution.settling.stem_scale import GRADUATION

LATE_RISE_FROM_S = 1800.0
"""From here on a rise is no foam, no temperature of the first minutes and no coarse grain. *Common practice*. [s]"""


def rises_off_the_stem(record: RunRecord, index: int) -> bool:
    """Whether a late reading beyond the stem stands above an earlier one on it: then it is not too much soil."""
    point, high = record.readings[index], record.hydrometer.scale_maximum
    if point.elapsed_s < LATE_RISE_FROM_S:
        return False
    before = [
        earlier.reading
        for earlier in record.readings[:index]
        if earlier.state is ReadingState.READ and earlier.reading is not None
    ]
    return min(before, default=high) < high - GRADUATION[record.hydrometer.scale]
