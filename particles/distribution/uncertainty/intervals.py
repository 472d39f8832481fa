"""
Uncertainty of sand, silt, clay and class from that of the inputs, by Monte Carlo.

Every draw is a whole run, see `uncertainty.model`; JCGM 101:2008, propagation of distributions, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from particles.distribution.answer import Estimate, Fractions, TextureClass
from particles.distribution.inputs.between_run import between_run_sds
from particles.distribution.uncertainty.chances import ClassChances
from particles.distribution.uncertainty.drawn_curve import Floats
from particles.distribution.uncertainty.how_many import COVERAGE_PCT, Stability, block_sizes
from particles.distribution.uncertainty.model import SEED, RunModel


@dataclass(frozen=True, slots=True)
class Figures:
    """Fractions of one run and the classes they fall into."""

    fractions: Fractions
    texture: TextureClass | None
    others: tuple[TextureClass, ...]


@dataclass(frozen=True, slots=True)
class Draws:
    """Number of draws of one run, and where they come from."""

    number: int
    """Fixed number; left aside with `digits`."""
    seed: int = SEED
    digits: int | None = None
    """Significant digits of the standard uncertainties that blocks are drawn for until they hold; None: fixed."""

    @property
    def wanted(self) -> bool:
        """Whether there is anything to draw."""
        return bool(self.number or self.digits)


@dataclass(frozen=True, slots=True)
class UncertainFigures:
    """Fractions and classes with their uncertainty, and how it was drawn."""

    figures: Figures
    covariance_pct2: tuple[tuple[float, ...], ...]
    """(3, 3) of sand, silt and clay. [%²]"""
    draws: int
    stabilised: bool | None
    """None when the number of draws was fixed."""


def with_uncertainty(model: RunModel, figures: Figures, draws: Draws) -> UncertainFigures:
    """
    Figures with standard uncertainty, 95 % interval, covariance and class chances.

    Parameters
    ----------
    model : of the run that the figures are of.
    figures : as computed; their values stay.
    draws : a fixed number, or blocks until the digits hold, at most MOST_DRAWS.
    """
    method, parts_pct = model.method, figures.fractions
    between = between_run_sds(
        model.record, method, sand_pct=parts_pct.sand.value_pct, clay_pct=parts_pct.clay.value_pct
    )
    stability = None if draws.digits is None else Stability(draws.digits)
    classes = (*([figures.texture] if figures.texture else []), *figures.others)
    chances = [ClassChances(each) for each in classes]
    parts: list[Floats] = []
    for block, size in enumerate(block_sizes(draws.number, stability)):
        runs = model.run(model.variates(size, draws.seed, block), method.uncertainties, between)
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
        for part, spread, low, high in zip(figures.fractions.estimates, spreads, *ends.tolist(), strict=True)
    )
    stated = tuple(counted.stated() for counted in chances)
    return UncertainFigures(
        Figures(
            replace(figures.fractions, sand=sand, silt=silt, clay=clay),
            stated[0] if figures.texture else None,
            stated[1:] if figures.texture else stated,
        ),
        tuple(tuple(row) for row in covariance.tolist()),
        drawn.shape[1],
        None if stability is None else stability.reached(),
    )
