"""
Contribution of each uncertain input to the uncertainty of sand, silt and clay.

Each input is drawn alone, with the very variates it has among the others, and the run computed anew; inputs
being independent, the variances add up as far as the run follows in proportion (JCGM 100:2008, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np

from particles.distribution.curve.fractions import take_fractions
from particles.distribution.curve.points import size_points, smoothed
from particles.distribution.inputs.between_run import BetweenRunSds, between_run_sds
from particles.distribution.inputs.blank_filling import interpolated_blanks_g_l, with_blanks_served
from particles.distribution.inputs.impossible import refuse_impossible
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.method.edition import InputUncertainties, MethodEdition
from particles.distribution.record import RunRecord
from particles.distribution.triple import SandSiltClay
from particles.distribution.uncertainty.how_many import BLOCK_DRAWS
from particles.distribution.uncertainty.model import SEED, RunModel

_EXACT = InputUncertainties(**{each.name: 0.0 for each in fields(InputUncertainties)})
BETWEEN_RUNS = "between runs"
INPUTS: dict[str, tuple[str, ...]] = {
    "reading": ("reading_g_l",),
    "scale division": ("scale_division_g_l", "scale_division_density"),
    "blank": ("blank_g_l", "blank_reading_g_l", "thermometer_c"),
    "particle density": ("particle_density_g_cm3",),
    "mass": ("mass_g",),
    "moisture": ("moisture_of_mass_pct",),
    "volume": ("volume_pct",),
    "temperature": ("temperature_c",),
    "depth": ("depth_cm",),
    "start": ("start_s",),
    "sieve masses": ("sieve_mass_g",),
    "sieve openings": ("sieve_opening_pct",),
    "reading off": ("reading_off_share", "reading_off_bias"),
    BETWEEN_RUNS: (),
}
"""Input -> the fields of InputUncertainties that hold its size; between runs has its own figure."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """Standard uncertainty that one input causes on its own."""

    name: str
    standard_uncertainty_pct: SandSiltClay[float]
    share: SandSiltClay[float]
    """Share of the sum of variances, from 0 to 1. [-]"""


@dataclass(frozen=True, slots=True)
class UncertaintyBudget:
    """Contributions of all inputs to the uncertainty of one run, in falling order."""

    contributions: tuple[Contribution, ...]
    """In falling order of variance, added up over sand, silt and clay."""
    combined_pct: SandSiltClay[float]
    """Root of the sum of the squared contributions. [%]"""
    drawn_together_pct: SandSiltClay[float]
    """Standard uncertainty with all inputs drawn at once; differs from the above where the run bends. [%]"""
    bias_pct: SandSiltClay[float]
    """How far the intervals are moved because the curve bends between the readings it was read off. [%]"""
    draws: int
    seed: int


def uncertainty_budget(
    record: RunRecord, method: MethodEdition, *, draws: int = BLOCK_DRAWS, seed: int = SEED
) -> UncertaintyBudget | None:
    """
    Contributions of all inputs to one run's sand, silt and clay; None for a run without fractions.

    Parameters
    ----------
    draws : for every input; the standard uncertainties are good to 1 / sqrt(2 draws).
    seed : of the draws.

    Raises
    ------
    DistributionError when the record cannot be computed at all.
    """
    refuse_impossible(record)
    mass = portion_mass(record)
    if mass is None or not method.certifiable:
        return None
    interpolated = interpolated_blanks_g_l(record, method)
    filled = with_blanks_served(record, method)
    points = smoothed(size_points(filled, method, mass.mass_g))
    fractions = take_fractions(record, method, points, mass.mass_g).fractions
    if fractions is None:
        return None
    model = RunModel(filled, method, points, mass, interpolated)
    contents = {"sand_pct": fractions.sand.value_pct, "clay_pct": fractions.clay.value_pct}
    together = (method.uncertainties, between_run_sds(record, method, **contents))
    named = list(_alone(*together))
    spreads = _spreads(model, [together, *(sizes for _, sizes in named)], draws, seed)
    variances = spreads[1:] ** 2
    total = variances.sum(axis=0)
    shares = np.divide(variances, total, out=np.zeros_like(variances), where=total > 0.0)
    contributions = [
        Contribution(name, _triple(spread), _triple(share))
        for (name, _), spread, share in zip(named, spreads[1:], shares, strict=True)
    ]
    contributions.sort(key=lambda each: -sum(u * u for u in each.standard_uncertainty_pct))
    return UncertaintyBudget(
        tuple(contributions), _triple(np.sqrt(total)), _triple(spreads[0]), _bias(model), draws, seed
    )


def _bias(model: RunModel) -> SandSiltClay[float]:
    bias, rules = model.method.uncertainties.reading_off_bias, model.rules
    clay_pct, sand_pct = bias * rules.clay_bend.bias_pct, -bias * rules.sand_bend.bias_pct
    return SandSiltClay(sand_pct, -sand_pct - clay_pct, clay_pct)


def _alone(
    sizes: InputUncertainties, between: BetweenRunSds
) -> Iterator[tuple[str, tuple[InputUncertainties, BetweenRunSds]]]:
    """Each input's name, and sizes of the errors with all others taken as exact."""
    for name, held in INPUTS.items():
        only = replace(_EXACT, **{field: getattr(sizes, field) for field in held})
        yield name, (only, between if name == BETWEEN_RUNS else BetweenRunSds(0.0, 0.0))


def _spreads(
    model: RunModel, sizes: list[tuple[InputUncertainties, BetweenRunSds]], draws: int, seed: int
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Standard deviations of sand, silt and clay, (sizes, 3), under each choice of error sizes. [%]"""
    errors = model.variates(draws, seed)
    drawn = (model.run(errors, sizes_alone, between).sand_silt_clay() for sizes_alone, between in sizes)
    return np.array([[part.std(ddof=1) for part in parts] for parts in drawn])


def _triple(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> SandSiltClay[float]:
    return SandSiltClay(*values.tolist())
