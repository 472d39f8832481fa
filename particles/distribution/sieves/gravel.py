"""The curve of the whole sample, its gravel included, beside that of the fine earth."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import CurvePoint
from particles.distribution.errors import GravelOutOfRangeError, MassOutOfRangeError, SieveOrderError
from particles.distribution.possible import GRAVEL_POSSIBLE_PCT
from particles.distribution.record import RunRecord
from particles.distribution.sieves.stack import FINE_EARTH_UM, percent_passing, refuse_impossible_stack


def refuse_impossible_gravel(record: RunRecord) -> None:
    """GravelOutOfRangeError, SieveOrderError, SieveMassNegativeError, MassOutOfRangeError."""
    if record.gravel_pct is not None and record.gravel_pct not in GRAVEL_POSSIBLE_PCT:
        raise GravelOutOfRangeError(
            f"Gravel outside {GRAVEL_POSSIBLE_PCT} of the whole sample, beside its fine earth",
            f"{record.gravel_pct:g} %",
            "Check both masses: gravel on the 2 mm sieve, and the dry mass of the whole sample.",
        )
    refuse_impossible_stack(record.gravel_sieves, 0.0)
    for sieve in record.gravel_sieves:
        if sieve.opening_um < FINE_EARTH_UM:
            raise SieveOrderError(
                "A gravel sieve finer than 2 mm",
                f"{sieve.opening_um:g} µm",
                "Enter it with the sand sieves; gravel is what stays on 2 mm and above.",
            )
    whole_g = record.whole_sample_dry_mass_g
    held_g = sum(sieve.retained_g for sieve in record.gravel_sieves)
    if whole_g is not None and (whole_g <= 0.0 or held_g >= whole_g):
        raise MassOutOfRangeError(
            f"The gravel sieves hold {held_g:g} g and the whole sample {whole_g:g} g, which leaves no fine earth",
            f"{held_g - whole_g:g} g too much",
            "Check both weighings.",
        )


MUCH_COARSER_PCT = 10.0
"""The largest grain of a sample is the size that not more than this is coarser than. [%]"""
LEAST_SAMPLE_G: tuple[tuple[float, float], ...] = (
    (2000.0, 100.0),
    (3350.0, 200.0),
    (6300.0, 300.0),
    (10_000.0, 500.0),
    (14_000.0, 1_000.0),
    (20_000.0, 2_000.0),
    (28_000.0, 6_000.0),
    (37_500.0, 14_000.0),
    (50_000.0, 35_000.0),
    (63_000.0, 40_000.0),
)
"""(largest grain [µm], least mass of the whole sample [g]): EN ISO 17892-4:2016, read at second hand in the list of
tests of a laboratory that sieves by it."""


def least_sample_g(record: RunRecord) -> tuple[float, float] | None:
    """
    Largest grain by the gravel sieves and the least mass of the whole sample it asks for. [µm], [g]

    None without gravel sieves and their basis, and where no sieve holds little enough above it: the grain is not known.
    """
    whole_g = record.whole_sample_dry_mass_g
    if whole_g is None or not record.gravel_sieves:
        return None
    curve = percent_passing(record.gravel_sieves, whole_g)
    little = [point.diameter_um for point in curve if point.percent_finer >= 100.0 - MUCH_COARSER_PCT]
    largest_um = min(little) if little else record.gravel_sieves[0].opening_um
    needed = [least_g for size_um, least_g in LEAST_SAMPLE_G if size_um >= largest_um]
    return largest_um, needed[0] if needed else LEAST_SAMPLE_G[-1][1]


def gravel_by_sieves_pct(record: RunRecord) -> float | None:
    """Coarser than 2 mm by the gravel sieves, percent of the whole sample; None without a 2 mm sieve."""
    whole_g, sieves = record.whole_sample_dry_mass_g, record.gravel_sieves
    if whole_g is None or not sieves or sieves[-1].opening_um != FINE_EARTH_UM:
        return None
    return 100.0 * sum(sieve.retained_g for sieve in sieves) / whole_g


def gravel_pct(record: RunRecord) -> float | None:
    """Gravel content of the whole sample by the sieves when they reach 2 mm, else as stated. [%]"""
    by_sieves = gravel_by_sieves_pct(record)
    return record.gravel_pct if by_sieves is None else by_sieves


def of_whole_sample_pct(percent_of_fine_earth: float, gravel_pct: float) -> float:
    """Percent of the fine earth turned into percent of the sample with its gravel. [%]"""
    return percent_of_fine_earth * (100.0 - gravel_pct) / 100.0


def whole_sample_curve(record: RunRecord, curve: Sequence[CurvePoint]) -> tuple[CurvePoint, ...]:
    """
    Gravel sieves in percent of the whole sample, then every point of the curve times (100 - gravel) / 100.

    Parameters
    ----------
    curve : (n,) of the fine earth, in falling order of diameter.

    Returns
    -------
    Empty when no gravel content is known.
    """
    gravel = gravel_pct(record)
    if gravel is None:
        return ()
    whole_g = record.whole_sample_dry_mass_g
    coarse = percent_passing(record.gravel_sieves, whole_g) if whole_g is not None else ()
    reached = coarse[-1].diameter_um if coarse else float("inf")
    fine = (
        CurvePoint(
            p.diameter_um,
            of_whole_sample_pct(p.percent_finer, gravel),
            p.source,
            None if p.held_pct is None else of_whole_sample_pct(p.held_pct, gravel),
        )
        for p in curve
        if p.diameter_um < reached
    )
    return (*coarse, *fine)
