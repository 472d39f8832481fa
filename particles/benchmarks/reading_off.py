"""
Calibration of reading off: how far a straight line lies from the truth, against what the bend of the points suggests.

Runs without any error: what is left is reading off. `python -m particles.benchmarks.reading_off` prints, for the clay
limit of each edition over soils of the whole texture triangle, the slope of the true errors on the suggested bias
and the root of the summed squares of what the slope leaves over that of the suggested magnitudes. The slope is
`InputUncertainties.reading_off_bias`, to the nearest 0.1. In a real run reading noise makes the bend itself uncertain:
`reading_off_share` is about 1.5 times what is printed, for the nine readings and for the four, by which
intervals of noisy runs hold the truth as often as they say (`manage.py benchmark_distribution --coverage`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from math import sqrt

import numpy as np

from particles.distribution import (
    METHOD_EDITIONS,
    InputUncertainties,
    Interpolation,
    MethodEdition,
    compute_distribution,
)
from particles.distribution.curve.bend import bend_at
from particles.distribution.curve.points import by_size
from particles.distribution.curve.reading_off import percent_finer_at

from .coverage import Soils, observed_run, triangle_soil

NO_ERRORS = replace(
    InputUncertainties(**{each.name: 0.0 for each in fields(InputUncertainties)}), scale_division_g_l=1e-6
)
"""A division too fine to matter: the simulated stem needs one to be read to."""
_FOLLOWED = {edition.follows for edition in METHOD_EDITIONS.values()}
EDITIONS = tuple(
    edition for edition in METHOD_EDITIONS.values() if edition.certifiable and edition.code not in _FOLLOWED
)
SEED = 20260105


@dataclass(frozen=True, slots=True)
class Found:
    """The bias and the share found for reading off, from runs whose true figures are known."""

    bias: float
    """Slope of true errors on the suggested ones. [-]"""
    share: float
    """Root mean square of what is left, over that of the suggested magnitude. [-]"""
    without_bias: float
    """Root mean square with nothing explained by the slope, over that of the suggested magnitude. [-]"""


def reading_off_found(
    method: MethodEdition,
    limit_um: float,
    soil: Soils,
    *,
    runs: int,
    seed: int,
    rule: Interpolation = Interpolation.STRAIGHT,
) -> Found:
    """Calibration over runs of a kind of soil at a limit that the schedule brackets."""
    errors = np.array(list(_errors_pct(method, limit_um, soil, runs, seed, rule)))
    true, suggested, size = errors.T
    bias = float((true * suggested).sum() / (suggested**2).sum())
    left = true - bias * suggested
    return Found(bias, *(sqrt((each**2).sum() / (size**2).sum()) for each in (left, true)))


def _errors_pct(
    method: MethodEdition, limit_um: float, soil: Soils, runs: int, seed: int, rule: Interpolation
) -> Iterator[tuple[float, float, float]]:
    """Curve less percent read off, bias and magnitude of each run with points on both sides of the limit. [%]"""
    exact, random = replace(method, uncertainties=NO_ERRORS), np.random.Generator(np.random.PCG64(seed))
    for _ in range(runs):
        drawn = soil(random)
        points = by_size(
            compute_distribution(observed_run(drawn, exact, random, sieved=False), method, draws=0).points
        )
        sizes, percents = [p.diameter_um for p in points], [p.percent_finer_curve for p in points]
        read = percent_finer_at(sizes, percents, limit_um, rule, factor=1.0)
        if read is not None:
            bend = bend_at(sizes, percents, limit_um)
            yield drawn.curve(limit_um) - read.percent, bend.bias_pct, bend.magnitude_pct


def at_clay_limits(soil: Soils, *, runs: int, seed: int) -> dict[str, Found]:
    """Edition -> what is found at its clay limit; at the sand limit the error is too small to count."""
    return {
        edition.code: reading_off_found(edition, edition.clay_limit_um, soil, runs=runs, seed=seed)
        for edition in EDITIONS
    }


if __name__ == "__main__":
    print(f"{'':<36} bias  share left  share without bias")
    for code, found in at_clay_limits(triangle_soil, runs=1000, seed=SEED).items():
        print(f"{code:<36} {found.bias:.2f}  {found.share:.2f}        {found.without_bias:.2f}")
