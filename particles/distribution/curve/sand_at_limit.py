"""
Sand at the sand limit, weighed on a sieve that lies beside it: 53 µm for 50 µm.

What lies between sieve and limit is as much as the hydrometer's curve falls between the two. Where the hydrometer
does not reach the sieve, it lies on the straight line from the sieve to the hydrometer's first point below it; where
sieves lie on both sides of the limit, between those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from particles.distribution.answer import SizePoint
from particles.distribution.curve.joined import run_curve
from particles.distribution.curve.points import by_size, read_at
from particles.distribution.curve.reading_off import percent_finer_at_size
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord, SieveMass
from particles.distribution.sieves.stack import retained_g, sand_sieve, sieved_portion_g


@dataclass(frozen=True, slots=True)
class SievedSand:
    """Sand of one run by its sand sieve. [% of the fine earth]"""

    opening_um: float
    retained_pct: float
    """Share on that sieve and those above it."""
    between_pct: float | None
    """Share finer than the sieve and coarser than the limit, negative for a sieve finer than the limit; None where no
    point lies below."""


def sieved_sand(
    record: RunRecord, method: MethodEdition, points: Sequence[SizePoint], portion_g: float
) -> SievedSand | None:
    """
    Sand of one run by its sand sieve; None when it has no sieve that counts as the sand limit.

    Parameters
    ----------
    points : (n,) smoothed, in any order.
    portion_g : oven-dry mass in the cylinder. [g]
    """
    sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um)
    if record.sieving is None or sieve is None:
        return None
    basis_g = sieved_portion_g(record.sieving, portion_g)
    retained = 100.0 * retained_g(record.sieving, sieve) / basis_g
    between = _between_pct(record, method, points, portion_g, sieve.opening_um, 100.0 - retained)
    return SievedSand(sieve.opening_um, retained, between)


def fall_spans_limit(
    ordered: Sequence[SizePoint], sieves: Sequence[SieveMass], opening_um: float, limit_um: float
) -> bool:
    """
    Whether the hydrometer's points lie on both sides of sieve and limit, so that its own fall counts between them.

    Parameters
    ----------
    ordered : (n,) points in falling order of diameter.
    sieves : of the stack; where they lie on both sides of the limit, their curve counts and not the fall.
    """
    low, high = sorted((opening_um, limit_um))
    finest, coarsest = min(s.opening_um for s in sieves), max(s.opening_um for s in sieves)
    if opening_um != limit_um and finest < limit_um < coarsest:
        return False
    return len(ordered) > 1 and ordered[0].diameter_um >= high and ordered[-1].diameter_um <= low


def _between_pct(
    record: RunRecord,
    method: MethodEdition,
    points: Sequence[SizePoint],
    portion_g: float,
    opening_um: float,
    passing_pct: float,
) -> float | None:
    limit_um, ordered = method.sand_limit_um, by_size(points)
    if opening_um == limit_um:
        return 0.0
    assert record.sieving is not None
    if fall_spans_limit(ordered, record.sieving.sieves, opening_um, limit_um):
        at_sieve, at_limit = (read_at(ordered, method, um, 1.0) for um in (opening_um, limit_um))
        assert at_sieve is not None
        assert at_limit is not None
        return at_sieve.percent - at_limit.percent
    (finer,) = percent_finer_at_size(run_curve(record, ordered, portion_g), (limit_um,), method.interpolation)
    return None if finer is None else passing_pct - finer
