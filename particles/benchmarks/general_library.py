"""The core's model and draws through OpenTURNS, a general-purpose uncertainty library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

import numpy as np

from particles.distribution import MethodEdition, RunRecord
from particles.distribution.curve.points import size_points, smoothed
from particles.distribution.inputs.between_run import between_run_sds
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.triple import SandSiltClay
from particles.distribution.uncertainty import model as draws
from particles.distribution.uncertainty.drawn_curve import Floats
from particles.distribution.uncertainty.model import RunModel, Variates

from .one_run import SHARED, input_count, one_run


def installed() -> bool:
    """Whether OpenTURNS can be imported; it is a tool of the tests, not of the laboratory."""
    return find_spec("openturns") is not None


@dataclass(frozen=True, slots=True)
class LibraryResult:
    """Sand, silt and clay as the library propagates them. [%]"""

    mean_pct: SandSiltClay[float]
    standard_deviation_pct: SandSiltClay[float]
    low_pct: SandSiltClay[float]
    high_pct: SandSiltClay[float]


def point_function(record: RunRecord, method: MethodEdition) -> Any:
    """The library's function called once per draw."""
    import openturns

    return openturns.PythonFunction(sum(input_count(record)), 3, one_run(record, method))


def sample_function(record: RunRecord, method: MethodEdition) -> Any:
    """The library's function called once for all draws, on the core's own arrays: its fastest form."""
    import openturns

    model = run_model(record, method)

    def function(sample: Any) -> Any:
        columns = np.ascontiguousarray(np.asarray(sample).T)
        runs = model.run(
            _variates_of(columns, record),
            method.uncertainties,
            between_run_sds(record, method, sand_pct=50.0, clay_pct=50.0),
        )
        return np.stack(runs.sand_silt_clay()).T

    return openturns.PythonFunction(sum(input_count(record)), 3, func_sample=function)


def run_model(record: RunRecord, method: MethodEdition) -> RunModel:
    """The core's own model of a record, from which its runs are drawn."""
    mass = portion_mass(record)
    assert mass is not None
    return RunModel(record, method, smoothed(size_points(record, method, mass.mass_g)), mass)


def _variates_of(columns: Floats, record: RunRecord) -> Variates:
    normal, _ = input_count(record)
    held = np.zeros((len(draws.SHARED) + 2 * len(record.readings), columns.shape[1]))
    held[: len(SHARED)] = columns[: len(SHARED)]
    held[len(draws.SHARED) :] = columns[len(SHARED) : normal]
    return Variates(held, columns[normal:])


def core_sample(record: RunRecord, method: MethodEdition, size: int, seed: int) -> Any:
    """The very draws that the core takes, as a sample of the library's."""
    import openturns

    errors = run_model(record, method).variates(size, seed)
    return openturns.Sample(
        np.concatenate([errors.normal[: len(SHARED)], errors.reading, errors.blank, errors.division]).T
    )


def library_sample(record: RunRecord, size: int, seed: int) -> Any:
    """Draws of the library's own."""
    import openturns

    openturns.RandomGenerator.SetSeed(seed)
    normal, even = input_count(record)
    each = [openturns.Normal(0.0, 1.0)] * normal + [openturns.Uniform(-0.5, 0.5)] * even
    return openturns.JointDistribution(each).getSample(size)


def result_of(function: Any, sample: Any) -> LibraryResult:
    """Result of a sample, propagated and summed up by the library."""
    out = function(sample)
    figures: list[Callable[[], Any]] = [
        out.computeMean,
        out.computeStandardDeviation,
        lambda: out.computeQuantilePerComponent(0.025),
        lambda: out.computeQuantilePerComponent(0.975),
    ]
    mean, spread, low, high = (SandSiltClay(*(float(part) for part in figure())) for figure in figures)
    return LibraryResult(mean, spread, low, high)
