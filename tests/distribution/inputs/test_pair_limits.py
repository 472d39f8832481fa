"""How far two runs may lie apart, checked by drawing pairs."""

from __future__ import annotations

import numpy as np
import pytest

from particles.distribution.inputs.between_run import pair_limits, sd_uncertainty_pct

RNG = np.random.default_rng(5)
SD_PCT = 1.3


def _drawn(pairs: int) -> np.ndarray:
    return RNG.normal(20.0, SD_PCT, (pairs, 2))


def test_chance_takes_pairs_beyond_the_limits_as_often_as_is_said() -> None:
    apart = np.abs(np.diff(_drawn(200_000))).ravel()
    limits = pair_limits(SD_PCT)
    assert np.mean(apart) == pytest.approx(limits.mean_pct, rel=0.01)
    assert np.mean(apart > limits.warn_pct) == pytest.approx(0.048, abs=0.003)
    assert np.mean(apart > limits.stop_pct) == pytest.approx(0.009, abs=0.002)


def test_the_uncertainty_of_a_deviation_is_how_it_scatters() -> None:
    found = np.sqrt((np.diff(RNG.normal(0.0, SD_PCT, (20_000, 12, 2)))[..., 0] ** 2).sum(axis=1) / 24)
    assert np.std(found) == pytest.approx(sd_uncertainty_pct(SD_PCT, 12), rel=0.05)
