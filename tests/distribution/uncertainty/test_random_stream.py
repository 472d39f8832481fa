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
from particles.distribution.uncertainty import model as draws_module
from particles.distribution.uncertainty.model import SEED, draw_variates
from tests.distribution.test_properties import runs
from tests.support.runs import NINE, good_run, sieved, with_reading

NORMAL = [0.11070911746484001, 0.11029748087492798, 0.19938552318129227, -0.1923173140388131]
EVEN = [0.025733199501831283, -0.3539699253669587]


def test_the_result_names_its_source() -> None:
    source = compute_distribution(good_run(), NINE).random_source
    assert source == f"numpy {np.__version__} PCG64"


def test_the_stream_is_the_recorded_one() -> None:
    """
    First values of seed 2026, recorded with numpy 2.4.6.

    numpy promises a stream for one build only (its compatibility policy, NEP 19): when this fails after an
    update of numpy, ENGINE_VERSION must rise, for the last printed digit of every interval may move.
    """
    by = draw_variates(2026, 0, 2, 0, 2)
    assert by.normal[:2].ravel() == pytest.approx(NORMAL, abs=1e-15)
    assert by.division[0] == pytest.approx(EVEN, abs=1e-15)


def test_all_runs_share_one_recorded_seed_unless_told_otherwise() -> None:
    """What differs between two answers then differs between their records, not between their draws."""
    answers = [compute_distribution(record, NINE) for record in (good_run(), with_reading(8, reading=12.5))]
    assert [answer.seed for answer in answers] == [SEED, SEED]
    assert compute_distribution(good_run(), NINE, seed=7).seed == 7


def test_what_is_kept_is_what_would_be_drawn_anew() -> None:
    """An answer does not depend on what was computed before it."""
    first = compute_distribution(good_run(), NINE)
    compute_distribution(good_run(sieving=sieved()), NINE, seed=3)
    draws_module._kept_variates.cache_clear()
    assert compute_distribution(good_run(), NINE) == first


def test_kept_draws_cannot_be_written_over() -> None:
    by = draw_variates(1, 0, 2, 1, 10)
    for held in (by.normal, by.division):
        with pytest.raises(ValueError, match="read-only"):
            held[0] = 0.0


def test_blocks_of_a_seed_and_seeds_have_streams_of_their_own() -> None:
    drawn = [draw_variates(seed, block, 9, 0, 5).normal.ravel() for seed in (1, 2) for block in (0, 1)]
    assert len({tuple(each) for each in drawn}) == 4
    assert np.abs(np.corrcoef(drawn) - np.eye(4)).max() < 0.4


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
