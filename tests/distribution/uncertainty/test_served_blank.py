"""The error of a blank that serves with all its readings: shared where readings share it, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from particles.distribution import BlankReading, RunRecord
from particles.distribution.inputs.served_blank import served_blank
from particles.distribution.uncertainty.drawn_blank import ServedErrors
from tests.support.runs import NINE, figures, good_run

SIZES = replace(NINE.uncertainties, blank_reading_g_l=0.35, thermometer_c=0.0)
N = len(NINE.schedule_s)


def _served(*blanks: BlankReading) -> RunRecord:
    return good_run(blanks=blanks)


def _together(count: int, at_s: float = 0.0) -> RunRecord:
    """Readings of the blank at one moment and at the temperature of the run."""
    return _served(*(BlankReading(at_s, 21.0, 4.5) for _ in range(count)))


def _errors(record: RunRecord) -> ServedErrors:
    found = ServedErrors.of(record, NINE, range(N), np.full(N, 0.3))
    assert found is not None
    return found


def _covariance(record: RunRecord) -> np.ndarray:
    root = _errors(record).root(SIZES)
    return np.asarray(root @ root.T)


def test_one_reading_of_the_blank_is_one_error_for_all() -> None:
    assert _errors(_together(1)).own == pytest.approx(np.ones((N, N)))


def test_four_readings_halve_it() -> None:
    covariance = 0.35**2 * _errors(_together(4)).own
    assert covariance == pytest.approx(np.full((N, N), 0.175**2))


def test_a_level_wanders_by_a_fifth_of_a_gram_in_a_day() -> None:
    """Blanks read at time zero: at 24 h 0.2 g/L have come to it, at 6 h half, and the day holds the first 6 h too."""
    wander = _errors(_together(1)).of_the_liquid
    assert wander[8, 8] == pytest.approx(0.04)
    assert wander[7, 7] == pytest.approx(0.04 * 7200.0 / 86_400.0)
    assert wander[7, 8] == pytest.approx(wander[7, 7]), "what wandered in 2 h is in both"


def test_a_degree_between_them_is_doubted_by_a_twentieth_of_a_gram() -> None:
    warmer = _served(BlankReading(0.0, 23.0, 4.0))
    same = _errors(_together(1)).of_the_liquid
    assert _errors(warmer).of_the_liquid - same == pytest.approx(np.full((N, N), (0.05 * 2.0) ** 2))


def test_half_of_a_move_is_doubted_in_the_readings_after_it() -> None:
    times_s = NINE.schedule_s
    moved = _served(*(BlankReading(t, 21.0, 4.5 + 2.0 * (t > 3600.0), t) for t in times_s))
    steady = _served(*(BlankReading(t, 21.0, 4.5, t) for t in times_s))
    later = [k for k, t in enumerate(times_s) if t > 3600.0]
    more = np.diag(_errors(moved).of_the_liquid) - np.diag(_errors(steady).of_the_liquid)
    assert more[later] == pytest.approx(np.full(len(later), 1.0), abs=0.05)
    assert more[: later[0]] == pytest.approx(np.zeros(later[0]), abs=0.05)


def test_the_root_draws_what_the_covariance_says() -> None:
    record = _served(*(BlankReading(t + 3600.0, 21.0 + k % 3, 4.5, t) for k, t in enumerate(NINE.schedule_s)))
    errors = np.random.default_rng(5).standard_normal((N, 200_000))
    root = _errors(record).root(SIZES)
    assert np.cov(root @ errors) == pytest.approx(_covariance(record), abs=0.002)
    assert np.linalg.eigvalsh(_covariance(record)).min() > -1e-9


def test_an_edition_that_takes_blanks_as_exact_takes_these_as_exact() -> None:
    exact = replace(SIZES, blank_reading_g_l=0.0, blank_g_l=0.0)
    assert not _errors(_together(1)).root(exact).any()


def test_a_blank_known_from_all_its_readings_makes_clay_surer() -> None:
    alone = figures(good_run(), draws=6000).fractions
    served = figures(
        good_run(blanks=tuple(BlankReading(t, 21.0, 4.5, t) for t in NINE.schedule_s)), draws=6000
    ).fractions
    assert alone is not None
    assert served is not None
    assert served.clay.value_pct == pytest.approx(alone.clay.value_pct)
    for wide, narrow in zip(alone.estimates, served.estimates, strict=True):
        assert wide.standard_uncertainty_pct is not None
        assert narrow.standard_uncertainty_pct is not None
        assert narrow.standard_uncertainty_pct < wide.standard_uncertainty_pct


@pytest.mark.parametrize("k", range(N))
def test_shares_are_one_in_sum_and_fall_with_time_and_temperature(k: int) -> None:
    times_s = [NINE.schedule_s[k] + apart for apart in (0.0, 20_000.0, 60_000.0)]
    by_time = served_blank(_served(*(BlankReading(t, 21.0, 4.5) for t in times_s)), NINE)
    by_warmth = served_blank(
        _served(*(BlankReading(times_s[0], 21.0 + c, 4.5 - 0.3 * c) for c in (0.0, 2.0, 6.0))), NINE
    )
    for served in (by_time, by_warmth):
        assert served is not None
        shares = served.weights[k]
        assert sum(shares) == pytest.approx(1.0)
        assert all(a > b for a, b in pairwise(shares))
