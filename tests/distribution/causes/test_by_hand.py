"""How likely a hand says what of a soil, against scipy's normal distributions."""

from __future__ import annotations

from math import hypot

import numpy as np
import pytest
from scipy import stats

from particles.distribution import USDA_CLASSES, SandSiltClay, usda_class
from particles.distribution.causes.by_hand import (
    CLAY_SD_PCT,
    OTHERS_SD_PCT,
    SAND_SD_PCT,
    SLIP,
    hand_shares,
    log_likelihood,
    rareness,
    surprise,
)
from particles.distribution.causes.evidence import ByHand

LOAM = SandSiltClay(40.0, 40.0, 20.0)


@pytest.mark.parametrize("percents", [LOAM, SandSiltClay(90.0, 6.0, 4.0), SandSiltClay(10.0, 20.0, 70.0)])
def test_shares_of_the_classes_are_those_of_a_normal_hand(percents: SandSiltClay[float]) -> None:
    """Against a hundred thousand hands drawn with numpy; the steps of the table leave a few hundredths."""
    random = np.random.default_rng(3)
    sand = np.clip(random.normal(percents.sand, SAND_SD_PCT, 100_000), 0.0, 100.0)
    clay = np.clip(random.normal(percents.clay, CLAY_SD_PCT, 100_000), 0.0, 100.0 - sand)
    drawn = [usda_class(s, 100.0 - s - c, c).name for s, c in zip(sand[:4000], clay[:4000], strict=True)]
    shares = hand_shares(percents)
    assert shares.sum() == pytest.approx(1.0)
    for name, share in zip(USDA_CLASSES, shares, strict=True):
        assert share == pytest.approx(drawn.count(name) / 4000.0, abs=0.04)


@pytest.mark.parametrize(("sand", "clay"), [(40.0, 20.0), (55.0, 20.0), (40.0, 35.0), (65.0, 5.0)])
def test_rareness_of_two_estimates_is_that_of_chi_square_with_two_degrees(sand: float, clay: float) -> None:
    squares = ((sand - 40.0) / hypot(SAND_SD_PCT, OTHERS_SD_PCT)) ** 2
    squares += ((clay - 20.0) / hypot(CLAY_SD_PCT, OTHERS_SD_PCT)) ** 2
    assert rareness(ByHand("loam", sand, clay), LOAM) == pytest.approx(stats.chi2.sf(squares, 2))


def test_rareness_of_one_estimate_is_that_of_a_normal_distribution() -> None:
    sds = 15.0 / hypot(CLAY_SD_PCT, OTHERS_SD_PCT)
    assert rareness(ByHand(clay_pct=35.0), LOAM) == pytest.approx(2.0 * stats.norm.sf(sds))
    assert rareness(ByHand(), LOAM) == 1.0


def test_a_class_alone_is_judged_by_the_classes_no_likelier() -> None:
    assert surprise("loam", LOAM) == pytest.approx(1.0)
    assert surprise("clay", LOAM) < 0.001
    assert rareness(ByHand("clay"), LOAM) == surprise("clay", LOAM)


def test_a_note_far_from_everything_costs_no_more_than_a_slip_of_the_pen() -> None:
    far, farther = (
        log_likelihood(ByHand(None, 95.0, clay), SandSiltClay(5.0, 20.0, 75.0)) for clay in (5.0, 0.0)
    )
    assert far == pytest.approx(farther, abs=1e-6)
    assert far > np.log(SLIP / 100.0)


def test_nothing_noted_says_nothing() -> None:
    assert log_likelihood(ByHand(), LOAM) == 0.0
