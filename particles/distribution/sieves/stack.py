"""Dry masses on a stack of sieves: percent passing, and how far the masses may fail to add up."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import sqrt

from particles.distribution.answer import CurvePoint
from particles.distribution.errors import MassOutOfRangeError, SieveMassNegativeError, SieveOrderError
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.possible import SIEVE_OPENING_POSSIBLE_UM
from particles.distribution.record import SieveMass, Sieving

FINE_EARTH_UM = 2000.0
"""Fine earth is what passes it."""


def refuse_impossible_sieving(sieving: Sieving) -> None:
    """Refuse a stack as `refuse_impossible_stack` does, and another portion without a mass (MassOutOfRangeError)."""
    refuse_impossible_stack(sieving.sieves, sieving.pan_g)
    own_g = sieving.portion_oven_dry_mass_g
    if own_g is not None and own_g <= 0.0:
        raise MassOutOfRangeError(
            "The sieved portion has no mass", f"{own_g:g} g", "Enter its oven-dry mass, or leave it out."
        )


def refuse_impossible_stack(sieves: Sequence[SieveMass], pan_g: float) -> None:
    """Refuse openings that do not fall (SieveOrderError) and negative masses (SieveMassNegativeError)."""
    for sieve in sieves:
        if sieve.opening_um not in SIEVE_OPENING_POSSIBLE_UM:
            raise SieveOrderError(
                f"A sieve's opening lies outside {SIEVE_OPENING_POSSIBLE_UM}",
                f"{sieve.opening_um:g} µm",
                "Check the opening and its unit (µm).",
            )
    for above, below in pairwise(sieves):
        if below.opening_um >= above.opening_um:
            raise SieveOrderError(
                "Sieve openings must fall from top to bottom",
                f"{below.opening_um:g} µm under {above.opening_um:g} µm",
                "Check the openings and their unit (µm).",
            )
    for name, mass_g in [*((f"{s.opening_um:g} µm", s.retained_g) for s in sieves), ("pan", pan_g)]:
        if mass_g < 0.0:
            raise SieveMassNegativeError(
                f"Negative mass on {name}", f"{mass_g:g} g", "Check the tare and weigh again."
            )


def percent_passing(sieves: Sequence[SieveMass], basis_g: float) -> tuple[CurvePoint, ...]:
    """
    Percent of basis_g that passes each sieve, in falling order of opening.

    Nothing lost is shared out: what was not weighed on a sieve counts as passed.
    """
    retained = accumulate(sieve.retained_g for sieve in sieves)
    return tuple(
        CurvePoint(sieve.opening_um, 100.0 * (basis_g - coarser_g) / basis_g, "sieve")
        for sieve, coarser_g in zip(sieves, retained, strict=True)
    )


def scaled_to_fines(
    points: Sequence[CurvePoint], sieve: Sequence[CurvePoint], split_um: float
) -> tuple[CurvePoint, ...]:
    """Hydrometer percentages of the fines turned into percent of the whole, by the passing at the split."""
    at_split = [point.percent_finer for point in sieve if point.diameter_um == split_um]
    if not at_split:
        raise SieveOrderError(
            "No sieve has the opening at which the fines were split off",
            f"{split_um:g} µm",
            "Check the split.",
        )
    return tuple(
        CurvePoint(point.diameter_um, point.percent_finer * at_split[0] / 100.0, "hydrometer")
        for point in points
    )


def sand_sieve(sieving: Sieving | None, openings_um: tuple[float, float]) -> SieveMass | None:
    """The finest sieve whose opening counts as the sand limit; None without one, or without sieves at all."""
    if sieving is None:
        return None
    low, high = openings_um
    fitting = [sieve for sieve in sieving.sieves if low <= sieve.opening_um <= high]
    return fitting[-1] if fitting else None


def retained_g(sieving: Sieving, finest: SieveMass) -> float:
    """Dry mass on all sieves down to and including `finest`. [g]"""
    return sum(sieve.retained_g for sieve in sieving.sieves if sieve.opening_um >= finest.opening_um)


def sieved_portion_g(sieving: Sieving, cylinder_portion_g: float) -> float:
    """Oven-dry mass that the sieve masses are percentages of: the sieved portion's own, or the cylinder's. [g]"""
    own_g = sieving.portion_oven_dry_mass_g
    return cylinder_portion_g if own_g is None else own_g


def sieve_balance_g(
    washed_g: float, sieves: int, mass_sd_g: float, limits: QualityLimits = STANDARD_LIMITS
) -> float:
    """Mass that sieves and pan may hold more than was put on the stack. [g]"""
    noise_g = weighing_noise_g(sieves, mass_sd_g, limits)
    return max(limits.sieve_balance_g, limits.sieve_balance_pct / 100.0 * washed_g, noise_g)


def weighing_noise_g(sieves: int, mass_sd_g: float, limits: QualityLimits) -> float:
    """
    How much weighing alone can take from a stack or add to it, at the edition's multiple. [g]

    All sieves, the pan and what went on the stack were weighed, each by itself.
    """
    return limits.noise_warn_sd * mass_sd_g * sqrt(sieves + 2.0)
