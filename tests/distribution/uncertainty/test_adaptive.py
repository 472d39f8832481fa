"""As many draws as the wanted digits need."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from particles.distribution import DistributionError, compute_distribution
from particles.distribution.uncertainty.how_many import (
    BLOCK_DRAWS,
    LEAST_BLOCKS,
    MOST_DRAWS,
    Stability,
    block_sizes,
    numerical_tolerance,
)
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, figures, good_run


@pytest.mark.parametrize(
    ("uncertainty", "digits", "tolerance"),
    [
        (1.74, 1, 0.5),
        (1.74, 2, 0.05),
        (1.74, 3, 0.005),
        (0.174, 2, 0.005),
        (17.4, 2, 0.5),
        (0.996, 2, 0.05),
        (0.994, 2, 0.005),
        (0.0, 2, 0.0),
    ],
)
def test_half_a_unit_of_the_last_digit(uncertainty: float, digits: int, tolerance: float) -> None:
    assert numerical_tolerance(uncertainty, digits) == pytest.approx(tolerance)


def test_one_digit_takes_the_least_blocks() -> None:
    answer = compute_distribution(good_run(), NINE, digits=1)
    assert (answer.draws, answer.stabilised) == (LEAST_BLOCKS * BLOCK_DRAWS, True)


def test_two_digits_hold_from_seed_to_seed() -> None:
    first, second = (compute_distribution(good_run(), NINE, digits=2, seed=seed) for seed in (1, 2))
    for answer in (first, second):
        assert answer.stabilised
        assert LEAST_BLOCKS * BLOCK_DRAWS < answer.draws < MOST_DRAWS
        assert f"{answer.draws} Monte Carlo draws" in " ".join(answer.notes)
    assert first.fractions is not None
    assert second.fractions is not None
    for here, there in (
        (first.fractions.clay, second.fractions.clay),
        (first.fractions.sand, second.fractions.sand),
    ):
        # Each side is good to 0.05 by the rule; two of them may lie twice as far apart.
        assert here.standard_uncertainty_pct == pytest.approx(there.standard_uncertainty_pct, abs=0.1)
        assert here.low_pct == pytest.approx(there.low_pct, abs=0.1)
        assert here.high_pct == pytest.approx(there.high_pct, abs=0.1)


def test_same_record_same_number_of_draws() -> None:
    assert compute_distribution(good_run(), NINE, digits=2) == compute_distribution(
        good_run(), NINE, digits=2
    )


def test_a_fixed_number_says_nothing_of_stability() -> None:
    assert compute_distribution(good_run(), NINE).stabilised is None


def test_nothing_doubted_is_stable_at_once() -> None:
    method = replace(NINE, dispersion_sd_pct=0.0, uncertainties=EXACT)
    answer = compute_distribution(good_run(), method, digits=2)
    assert (answer.draws, answer.stabilised) == (LEAST_BLOCKS * BLOCK_DRAWS, True)


def test_two_blocks_alike_are_not_enough() -> None:
    stability = Stability(1)
    same = np.random.Generator(np.random.PCG64(1)).standard_normal((3, 50))
    for known in range(1, 6):
        stability.add(same)
        assert stability.reached() is (known == 5)


def test_the_cap_ends_what_never_settles() -> None:
    """Blocks that jump by more than the tolerance, whatever their number."""
    stability = Stability(2)
    sizes = []
    for size in block_sizes(0, stability):
        sizes.append(size)
        random = np.random.Generator(np.random.PCG64(len(sizes)))
        stability.add(random.standard_normal((3, 50)) * 10.0 ** (len(sizes) % 2))
    assert sum(sizes) == MOST_DRAWS
    assert not stability.reached()


def test_fixed_blocks_add_up() -> None:
    assert list(block_sizes(25_000, None)) == [10_000, 10_000, 5_000]
    assert figures(good_run(), draws=25_000).draws == 25_000


@pytest.mark.parametrize("digits", [0, 4, -1])
def test_digits_nobody_can_settle_are_refused(digits: int) -> None:
    with pytest.raises(DistributionError, match="1 to 3"):
        compute_distribution(good_run(), NINE, digits=digits)


def test_draws_and_digits_contradict_each_other() -> None:
    with pytest.raises(DistributionError, match="Give one of them"):
        compute_distribution(good_run(), NINE, draws=1000, digits=2)


def test_an_edition_without_draws_can_still_be_asked_for_digits() -> None:
    assert (
        compute_distribution(good_run(), replace(NINE, draws=0), digits=1).draws == LEAST_BLOCKS * BLOCK_DRAWS
    )
