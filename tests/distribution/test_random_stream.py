"""The stream behind the draws: recorded, and noticed when another numpy changes it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from particles.distribution import (
    ClayExtrapolation,
    Interpolation,
    MethodEdition,
    RunRecord,
    compute_distribution,
)
from particles.distribution.draws import RunModel, random_of
from particles.distribution.points import size_points, smoothed
from particles.distribution.portion import portion_mass

from .runs import NINE, good_run, sieved
from .test_properties import runs

NORMAL = [-0.7931224751578991, 0.24057128353827487, -1.8963263495990657, 1.3957717101086942]
EVEN = [0.3549173343096512, 0.790518245853265]


def test_the_result_names_its_source() -> None:
    source = compute_distribution(good_run(), NINE).random_source
    assert source == f"numpy {np.__version__} PCG64"


def test_the_stream_is_the_recorded_one() -> None:
    """
    First values of seed 2026, recorded with numpy 2.4.6.

    numpy promises a stream for one build only (its compatibility policy, NEP 19): when this fails after an
    update of numpy, ENGINE_VERSION must rise, for the last printed digit of every interval may move.
    """
    random = random_of(2026)
    normal = np.empty((2, 2))
    random.standard_normal(out=normal)
    even = np.empty(2)
    random.random(out=even)
    assert normal.ravel() == pytest.approx(NORMAL, abs=1e-15)
    assert even == pytest.approx(EVEN, abs=1e-15)


def test_more_draws_begin_like_fewer() -> None:
    """Chunks follow each other on one stream, so more draws add to the first ones and change none of them."""
    mass = portion_mass(good_run())
    assert mass is not None
    model = RunModel(good_run(), NINE, smoothed(size_points(good_run(), NINE, mass.mass_g)), mass)
    few, many = (next(model.runs(draws, random_of(9), 1.5)).sand_silt_clay() for draws in (2_500, 10_000))
    assert np.array_equal(few, many)


EDITIONS = [
    NINE,
    replace(NINE, interpolation=Interpolation.MONOTONE_CUBIC),
    replace(NINE, clay_extrapolation=ClayExtrapolation.DAY_LINE),
]


@settings(max_examples=30, deadline=None)
@given(runs(), st.booleans(), st.sampled_from(EDITIONS))
def test_the_value_lies_inside_its_interval_whatever_the_rule(
    record: RunRecord, with_sieves: bool, method: MethodEdition
) -> None:
    answer = compute_distribution(
        replace(record, sieving=sieved()) if with_sieves else record, method
    ).fractions
    assert answer is not None
    for part in (answer.clay, answer.silt, answer.sand):
        assert part.low_pct is not None
        assert part.high_pct is not None
        assert part.low_pct < part.value_pct < part.high_pct


def test_intervals_hold_the_middle_of_the_draws() -> None:
    answer = compute_distribution(good_run(), NINE).fractions
    assert answer is not None
    for part in (answer.clay, answer.silt, answer.sand):
        assert part.standard_uncertainty_pct is not None
        half = ((part.high_pct or 0.0) - (part.low_pct or 0.0)) / 2.0
        assert half == pytest.approx(1.96 * part.standard_uncertainty_pct, rel=0.08)
