"""The curve of one run: its sieves, then the hydrometer below them."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import CurvePoint, SizePoint
from particles.distribution.curve.points import by_size
from particles.distribution.curve.reading_off import joined_curve
from particles.distribution.record import RunRecord
from particles.distribution.sieves.stack import percent_passing, sieved_portion_g


def run_curve(record: RunRecord, points: Sequence[SizePoint], portion_g: float) -> tuple[CurvePoint, ...]:
    """
    Joined curve in falling order of diameter.

    points are smoothed; portion_g is the oven-dry mass in the cylinder. [g]
    """
    sieve: tuple[CurvePoint, ...] = ()
    if record.sieving:
        sieve = percent_passing(record.sieving.sieves, sieved_portion_g(record.sieving, portion_g))
    return joined_curve(sieve, settled_curve(points))


def settled_curve(points: Sequence[SizePoint]) -> tuple[CurvePoint, ...]:
    """The hydrometer's own curve, smoothed, in falling order of diameter."""
    return tuple(CurvePoint(p.diameter_um, p.percent_finer_curve, "hydrometer") for p in by_size(points))
