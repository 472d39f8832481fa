"""
How far reading off straight lies from the truth, against what the bend of the points suggests; calibrates the share.

Runs without any error: what is left is reading off. `python -m particles.benchmarks.reading_off` prints, for the
clay limit of each edition, the root of the summed squares of the true errors over that of the suggested ones. Their
mean over soils of the whole texture triangle, to the nearest 0.05, is `InputUncertainties.reading_off_share`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from math import sqrt

import numpy as np

from particles.distribution import (
    METHOD_EDITIONS,
    InputUncertainties,
    Interpolation,
    MethodEdition,
    compute_distribution,
)
from particles.distribution.curve import percent_finer_at
from particles.distribution.fractions import by_size
from particles.distribution.reading_off import bend_error_pct

from .coverage import Soils, observed_run, triangle_soil

NO_DOUBT = replace(
    InputUncertainties(**{each.name: 0.0 for each in fields(InputUncertainties)}), scale_division_g_l=1e-6
)
"""A division too fine to matter: the simulated stem needs one to be read to."""
EDITIONS = tuple(edition for edition in METHOD_EDITIONS.values() if edition.certifiable)
SEED = 20260105


def share_found(
    method: MethodEdition,
    limit_um: float,
    soil: Soils,
    *,
    runs: int,
    seed: int,
    rule: Interpolation = Interpolation.STRAIGHT,
) -> float:
    """Root of summed squares of true over suggested errors at a limit that the schedule brackets. [-]"""
    pairs = list(_errors_pct(method, limit_um, soil, runs, seed, rule))
    return sqrt(sum(true**2 for true, _ in pairs) / sum(suggested**2 for _, suggested in pairs))


def _errors_pct(
    method: MethodEdition, limit_um: float, soil: Soils, runs: int, seed: int, rule: Interpolation
) -> Iterator[tuple[float, float]]:
    """True and suggested error of each run whose points lie on both sides of the limit. [%]"""
    exact, random = replace(method, uncertainties=NO_DOUBT), np.random.Generator(np.random.PCG64(seed))
    for _ in range(runs):
        drawn = soil(random)
        points = by_size(
            compute_distribution(observed_run(drawn, exact, random, sieved=False), method, draws=0).points
        )
        sizes, percents = [p.diameter_um for p in points], [p.percent_finer_curve for p in points]
        read = percent_finer_at(sizes, percents, limit_um, rule, factor=1.0)
        if read is not None:
            yield read.percent - drawn.curve(limit_um), bend_error_pct(sizes, percents, limit_um)


def clay_shares(soil: Soils, *, runs: int, seed: int) -> dict[str, float]:
    """Edition -> share found at its clay limit; at the sand limit the error is too small to count."""
    return {
        edition.code: share_found(edition, edition.clay_limit_um, soil, runs=runs, seed=seed)
        for edition in EDITIONS
    }


if __name__ == "__main__":
    calibrated = clay_shares(triangle_soil, runs=1000, seed=SEED)
    for code, share in calibrated.items():
        print(f"{code:<36} {share:.2f}")
    print(f"{'mean':<36} {sum(calibrated.values()) / len(calibrated):.2f}")
