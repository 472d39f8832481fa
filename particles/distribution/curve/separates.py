"""
The five sand separates of the USDA, from the sieves that stand at their limits.

Limits 2000, 1000, 500, 250, 100 and 50 µm: Soil Survey Manual, USDA Handbook 18 (2017), chapter 3.
"""

from __future__ import annotations

from particles.distribution.answer import SandFraction
from particles.distribution.curve.interpolation import read_between
from particles.distribution.record import Sieving
from particles.distribution.sieves.stack import percent_passing

SEPARATES = (
    ("very coarse sand", 2000.0, 1000.0),
    ("coarse sand", 1000.0, 500.0),
    ("medium sand", 500.0, 250.0),
    ("fine sand", 250.0, 100.0),
    ("very fine sand", 100.0, 50.0),
)
VERY_FINE_UM, SAND_UM = 100.0, 50.0
"""Limits of very fine sand and of sand. [µm]"""
NEAREST_SIEVE_UM = {VERY_FINE_UM: (100.0, 106.0), SAND_UM: (50.0, 53.0)}
"""Openings accepted as the sieve of a limit that the common series does not hold."""


def sand_fractions(
    sieving: Sieving | None, basis_g: float, finer_than_sand_pct: float | None = None
) -> tuple[SandFraction, ...]:
    """
    Percent of the fine earth in each separate; empty unless every limit below 2 mm has its sieve.

    Parameters
    ----------
    basis_g : oven-dry mass of the portion the sand was washed out of. [g]
    finer_than_sand_pct : percent finer than 50 µm, when sand was brought to that limit; then the sieve beside 100 µm is
        brought to it too, along the straight line to the next finer sieve. None: each sieve counts as its limit. [%]
    """
    if sieving is None:
        return ()
    passing = percent_passing(sieving.sieves, basis_g)
    at: dict[float, float] = {2000.0: 100.0}
    for limit_um in (2000.0, *(fine_um for _, _, fine_um in SEPARATES)):
        low, high = NEAREST_SIEVE_UM.get(limit_um, (limit_um, limit_um))
        fitting = [point.percent_finer for point in passing if low <= point.diameter_um <= high]
        if fitting:
            at[limit_um] = fitting[-1]
    if len(at) <= len(SEPARATES):
        return ()
    if finer_than_sand_pct is not None:
        sizes, percents = [p.diameter_um for p in passing], [p.percent_finer for p in passing]
        at |= {VERY_FINE_UM: read_between(sizes, percents, VERY_FINE_UM), SAND_UM: finer_than_sand_pct}
    return tuple(
        SandFraction(name, coarse_um, fine_um, at[coarse_um] - at[fine_um])
        for name, coarse_um, fine_um in SEPARATES
    )
