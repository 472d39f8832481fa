"""Dry masses on a stack of sieves: percent passing, and whether the masses add up."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import hypot, sqrt

from particles.distribution.errors import MassOutOfRangeError, SieveMassNegativeError, SieveOrderError
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.record import CurvePoint, Finding, Severity, SieveMass, Sieving

FINE_EARTH_UM = 2000.0
"""Fine earth is what passes it."""


def refuse_impossible_sieving(sieving: Sieving) -> None:
    """What `refuse_impossible_stack` refuses, and MassOutOfRangeError for another portion without a mass."""
    refuse_impossible_stack(sieving.sieves, sieving.pan_g)
    own_g = sieving.portion_oven_dry_mass_g
    if own_g is not None and own_g <= 0.0:
        raise MassOutOfRangeError(
            "The sieved portion has no mass", f"{own_g:g} g", "Enter its oven-dry mass, or leave it out."
        )


def refuse_impossible_stack(sieves: Sequence[SieveMass], pan_g: float) -> None:
    """SieveOrderError, SieveMassNegativeError."""
    for sieve in sieves:
        if sieve.opening_um <= 0.0:
            raise SieveOrderError(
                "A sieve has no opening", f"{sieve.opening_um:g} µm", "Check the opening and its unit (µm)."
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


def sieving_findings(
    sieving: Sieving,
    portion_g: float | None,
    limits: QualityLimits = STANDARD_LIMITS,
    mass_sd_g: float = 0.0,
    portion_sd_g: float = 0.0,
) -> list[Finding]:
    """
    Masses that do not add up: sieve_gain, sieve_loss, sieve_loss_small, washed_above_portion, gravel_on_sand_sieves.

    Parameters
    ----------
    portion_g : oven-dry mass of the sieved portion, None when the stack is the whole test. [g]
    mass_sd_g : standard uncertainty of each mass on a sieve; a difference within it and the limits is none. [g]
    portion_sd_g : the same of the portion, its moisture included. [g]
    """
    washed = sieving.washed_dry_mass_g
    noise_g = _weighing_noise_g(len(sieving.sieves), mass_sd_g, limits)
    found: list[Finding] = []
    if portion_g is not None:
        found += _against_portion(sieving, portion_g, limits, mass_sd_g, portion_sd_g)
    total = sum(sieve.retained_g for sieve in sieving.sieves) + sieving.pan_g
    lost = washed - total
    if -lost > sieve_balance_g(washed, len(sieving.sieves), mass_sd_g, limits):
        found.append(
            Finding(
                "sieve_gain",
                Severity.STOP,
                f"The sieves and pan hold {-lost:.2f} g more than the {washed:.2f} g put on the stack.",
                "Look for a tare, wet sand or another sample; weigh again.",
                -lost,
                "g",
            )
        )
    elif lost > 0.0:
        found.append(_loss(lost, washed, limits.sieve_loss_pct, noise_g))
    return found


def sieve_balance_g(
    washed_g: float, sieves: int, mass_sd_g: float, limits: QualityLimits = STANDARD_LIMITS
) -> float:
    """How much more than was put on a stack its sieves and pan may hold. [g]"""
    noise_g = _weighing_noise_g(sieves, mass_sd_g, limits)
    return max(limits.sieve_balance_g, limits.sieve_balance_pct / 100.0 * washed_g, noise_g)


def _weighing_noise_g(sieves: int, mass_sd_g: float, limits: QualityLimits) -> float:
    # All sieves, the pan and what went on the stack were weighed, each by itself.
    return limits.noise_warn_sd * mass_sd_g * sqrt(sieves + 2.0)


def _against_portion(
    sieving: Sieving, portion_g: float, limits: QualityLimits, mass_sd_g: float, portion_sd_g: float
) -> list[Finding]:
    found: list[Finding] = []
    washed = sieving.washed_dry_mass_g
    if washed > portion_g + max(
        limits.sieve_balance_g, limits.noise_warn_sd * hypot(mass_sd_g, portion_sd_g)
    ):
        found.append(
            Finding(
                "washed_above_portion",
                Severity.STOP,
                f"The washed sand weighs {washed:.2f} g, more than its portion of {portion_g:.2f} g.",
                "Check tare, dryness and that both masses belong to this portion.",
                washed - portion_g,
                "g",
            )
        )
    gravel_g = sum(sieve.retained_g for sieve in sieving.sieves if sieve.opening_um >= FINE_EARTH_UM)
    if gravel_g > limits.noise_warn_sd * mass_sd_g:
        percent = 100.0 * gravel_g / portion_g
        found.append(
            Finding(
                "gravel_on_sand_sieves",
                Severity.STOP if percent > limits.gravel_in_portion_pct else Severity.WARN,
                f"{gravel_g:.2f} g ({percent:.1f} %) of the portion stayed on sieves of 2 mm and more: it is no fine "
                "earth, yet counts as sand here.",
                "Sieve the fine earth again and repeat the run, or take it off the portion's mass with a reason.",
                percent,
                "%",
            )
        )
    return found


def _loss(lost_g: float, washed_g: float, limit_pct: float, noise_g: float) -> Finding:
    percent = 100.0 * lost_g / washed_g
    sentence = f"{lost_g:.2f} g ({percent:.1f} %) of the mass put on the stack was lost in sieving."
    if percent > limit_pct and lost_g > noise_g:
        return Finding(
            "sieve_loss", Severity.STOP, sentence, "Sieve again; the loss is not shared out.", percent, "%"
        )
    return Finding(
        "sieve_loss_small",
        Severity.NOTE,
        sentence,
        "Nothing to do; the loss is not shared out.",
        percent,
        "%",
    )
