"""The same model and number of draws through OpenTURNS, a general-purpose uncertainty library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

import numpy as np

from particles.distribution import MethodEdition, RunRecord
from particles.distribution.between_run import between_run_sd_pct
from particles.distribution.draws import RunModel
from particles.distribution.points import size_points, smoothed
from particles.distribution.portion import portion_mass

from .one_run import SHARED, input_count, one_run

Triple = tuple[float, float, float]


def installed() -> bool:
    """Whether OpenTURNS can be imported; it is a tool of the tests, not of the laboratory."""
    return find_spec("openturns") is not None


@dataclass(frozen=True, slots=True)
class LibraryAnswer:
    """Of sand, silt and clay. [%]"""

    mean_pct: Triple
    standard_deviation_pct: Triple
    low_pct: Triple
    high_pct: Triple


def point_function(record: RunRecord, method: MethodEdition) -> Any:
    """The library's function called once per draw."""
    import openturns

    return openturns.PythonFunction(sum(input_count(record)), 3, one_run(record, method))


def sample_function(record: RunRecord, method: MethodEdition) -> Any:
    """The library's function called once for all draws, on the core's own arrays: its fastest form."""
    import openturns

    mass = portion_mass(record)
    assert mass is not None
    model = RunModel(record, method, smoothed(size_points(record, method, mass.mass_g)), mass)
    normal, _ = input_count(record)

    def function(sample: Any) -> Any:
        columns = np.ascontiguousarray(np.asarray(sample).T)
        by = model.variates(columns.shape[1])
        by.normal[: len(SHARED)] = columns[: len(SHARED)]
        by.reading[:] = columns[len(SHARED) : normal]
        by.division[:] = columns[normal:]
        runs = model.run(by, method.uncertainties, between_run_sd_pct(record, method))
        return np.stack(runs.sand_silt_clay()).T

    return openturns.PythonFunction(sum(input_count(record)), 3, func_sample=function)


def answer_of(function: Any, record: RunRecord, draws: int, seed: int) -> LibraryAnswer:
    """Draw, propagate and sum up, all by the library."""
    import openturns

    openturns.RandomGenerator.SetSeed(seed)
    normal, even = input_count(record)
    each = [openturns.Normal(0.0, 1.0)] * normal + [openturns.Uniform(-0.5, 0.5)] * even
    sample = function(openturns.JointDistribution(each).getSample(draws))
    figures: list[Callable[[], Any]] = [
        sample.computeMean,
        sample.computeStandardDeviation,
        lambda: sample.computeQuantilePerComponent(0.025),
        lambda: sample.computeQuantilePerComponent(0.975),
    ]
    mean, spread, low, high = ((float(p[0]), float(p[1]), float(p[2])) for p in (f() for f in figures))
    return LibraryAnswer(mean, spread, low, high)
