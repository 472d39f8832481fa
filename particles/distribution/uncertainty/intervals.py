"""
Uncertainty of sand, silt, clay and class from that of the inputs, by Monte Carlo.

Every draw is a whole run, see `uncertainty.model`; JCGM 101:2008, propagation of distributions, from memory.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from particles.distribution.answer import Estimate, Fractions, SizePoint, TextureClass
from particles.distribution.inputs.between_run import between_run_sd_pct
from particles.distribution.inputs.portion import PortionMass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord
from particles.distribution.uncertainty.chances import ClassChances
from particles.distribution.uncertainty.drawn_curve import Floats
from particles.distribution.uncertainty.how_many import COVERAGE_PCT, Stability, block_sizes
from particles.distribution.uncertainty.model import RunModel

LEAST_DRAWS = 100
"""Fewer draws hold no 2.5 % end of an interval to speak of; *common practice* is 10 000. [-]"""


@dataclass(frozen=True, slots=True)
class UncertainFigures:
    """Fractions and classes with their uncertainty, and how it was drawn."""

    fractions: Fractions
    texture: TextureClass | None
    others: tuple[TextureClass, ...]
    covariance_pct2: tuple[tuple[float, ...], ...]
    """(3, 3) of sand, silt and clay. [%²]"""
    draws: int
    stabilised: bool | None
    """None when the number of draws was fixed."""


def with_uncertainty(
    record: RunRecord,
    method: MethodEdition,
    points: tuple[SizePoint, ...],
    mass: PortionMass,
    fractions: Fractions,
    texture: TextureClass | None,
    others: tuple[TextureClass, ...],
    *,
    blanks: Collection[int] = (),
    draws: int,
    seed: int,
    digits: int | None = None,
) -> UncertainFigures:
    """
    The same fractions and classes with standard uncertainty, 95 % interval, covariance and class chances.

    blanks are the readings, by index, whose blank was interpolated. draws is the fixed number; with digits it is
    left aside and blocks are drawn until those significant digits of the standard uncertainties hold, or MOST_DRAWS.
    """
    model = RunModel(record, method, points, mass, blanks)
    between = between_run_sd_pct(record, method)
    stability = None if digits is None else Stability(digits)
    chances = [ClassChances(each) for each in ((texture,) if texture else ()) + others]
    parts: list[Floats] = []
    for block, size in enumerate(block_sizes(draws, stability)):
        runs = model.run(model.variates(size, seed, block), method.uncertainties, between)
        own = runs.sand_silt_clay()
        parts.append(np.stack(own))
        for counted in chances:
            counted.add(runs, own)
        if stability is not None:
            stability.add(parts[-1])
    drawn = parts[0] if len(parts) == 1 else np.concatenate(parts, axis=1)
    covariance = np.cov(drawn)
    ends = np.percentile(drawn, COVERAGE_PCT, axis=1)
    spreads = np.sqrt(np.diagonal(covariance)).tolist()
    sand, silt, clay = (
        Estimate(part.value_pct, spread, low, high)
        for part, spread, low, high in zip(fractions.estimates, spreads, *ends.tolist(), strict=True)
    )
    stated = tuple(counted.stated() for counted in chances)
    return UncertainFigures(
        replace(fractions, sand=sand, silt=silt, clay=clay),
        stated[0] if texture else None,
        stated[1:] if texture else stated,
        tuple(tuple(row) for row in covariance.tolist()),
        drawn.shape[1],
        None if stability is None else stability.reached(),
    )
