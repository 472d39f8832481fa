"""The spread between runs: the edition's figure, or the laboratory's own duplicates."""

from __future__ import annotations

from dataclasses import replace
from math import nan

import numpy as np
import pytest

from particles.distribution import (
    DistributionError,
    between_run_sd_from_duplicates,
    record_digest,
    record_from_plain,
    record_to_plain,
)
from particles.distribution.inputs.between_run import LEAST_PAIRS
from particles.distribution.record import SpreadByContent
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, figures, good_run

ONLY = replace(NINE, uncertainties=EXACT)


def test_known_differences() -> None:
    """Four pairs 1 apart and four 3 apart: sum of d² is 40, over 16."""
    pairs = [(20.0, 21.0), (21.0, 20.0)] * 2 + [(30.0, 33.0), (33.0, 30.0)] * 2
    assert between_run_sd_from_duplicates(pairs) == (pytest.approx(2.5**0.5), 8)


def test_it_finds_the_spread_that_made_the_pairs() -> None:
    random = np.random.Generator(np.random.PCG64(4))
    drawn = random.uniform(10.0, 40.0, (4000, 1)) + 1.2 * random.standard_normal((4000, 2))
    found, n = between_run_sd_from_duplicates([(a, b) for a, b in drawn.tolist()])
    assert n == 4000
    assert found == pytest.approx(1.2, rel=0.04)


def test_too_few_pairs_are_refused() -> None:
    with pytest.raises(DistributionError, match="7 pairs"):
        between_run_sd_from_duplicates([(1.0, 2.0)] * (LEAST_PAIRS - 1))


def test_the_own_figure_takes_the_place_of_the_editions() -> None:
    own = figures(good_run(between_run_sd_pct=0.8), method=ONLY, draws=20_000)
    assert own.fractions is not None
    assert own.fractions.clay.standard_uncertainty_pct == pytest.approx(0.8, rel=0.03)
    assert own.between_run_sd_pct == 0.8
    assert figures(good_run(), draws=100).between_run_sd_pct == NINE.dispersion_sd_pct


def test_paper_says_where_it_came_from() -> None:
    own, counted, usual = (
        " ".join(figures(record, draws=100).notes)
        for record in (
            good_run(between_run_sd_pct=0.8),
            good_run(between_run_sd_pct=0.8, between_run_pairs=12),
            good_run(),
        )
    )
    assert "(from the laboratory's duplicates, 12 pairs)" in counted
    assert "0.8 percentage points between runs (from the laboratory's duplicates)" in own
    assert "1.5 percentage points between runs (the method's figure)" in usual


def test_it_belongs_to_what_the_digest_covers() -> None:
    assert record_digest(good_run(between_run_sd_pct=0.8), NINE) != record_digest(good_run(), NINE)


def test_round_trip_and_records_from_before() -> None:
    record = good_run(between_run_sd_pct=0.8)
    assert record_from_plain(record_to_plain(record)) == record
    before = record_to_plain(good_run())
    del before["between_run_sd_pct"]
    assert record_from_plain(before) == good_run()


@pytest.mark.parametrize("value", [-0.1, 20.1, nan])
def test_impossible_figures_are_refused(value: float) -> None:
    with pytest.raises(DistributionError):
        figures(good_run(between_run_sd_pct=value))


def test_sand_and_clay_have_their_own_spread() -> None:
    record = good_run(between_run_sand=SpreadByContent(0.4), between_run_clay=SpreadByContent(0.9))
    own = figures(record, method=ONLY, draws=20_000)
    assert own.fractions is not None
    assert own.fractions.sand.standard_uncertainty_pct == pytest.approx(0.4, rel=0.03)
    assert own.fractions.clay.standard_uncertainty_pct == pytest.approx(0.9, rel=0.03)
    assert own.between_run_sd_pct == 0.9, "the larger of the two"
    words = " ".join(figures(record, draws=100).notes)
    assert (
        "0.4 (sand) and 0.9 (clay) percentage points between runs (from the laboratory's duplicates)" in words
    )


def test_a_spread_that_rises_is_that_of_the_runs_own_content() -> None:
    rising = SpreadByContent(0.3, 1.2)
    own = figures(good_run(between_run_clay=rising), method=ONLY, draws=20_000)
    assert own.fractions is not None
    clay = own.fractions.clay
    assert clay.standard_uncertainty_pct == pytest.approx(rising.at(clay.value_pct), rel=0.03)
    sand = own.fractions.sand.standard_uncertainty_pct
    assert sand == pytest.approx(NINE.dispersion_sd_pct, rel=0.03), "the method's stays"


def test_a_spread_of_one_fraction_alone_leaves_records_from_before_their_digest() -> None:
    assert record_digest(good_run(between_run_sand=SpreadByContent(0.8)), NINE) != record_digest(
        good_run(), NINE
    )
    before = record_to_plain(good_run())
    for name in ("between_run_sand", "between_run_clay"):
        del before[name]
    assert record_digest(record_from_plain(before), NINE) == record_digest(good_run(), NINE)
    kept = good_run(between_run_clay=SpreadByContent(0.5, 0.7))
    assert record_from_plain(record_to_plain(kept)) == kept


@pytest.mark.parametrize("spread", [SpreadByContent(-0.1), SpreadByContent(0.5, 20.1), SpreadByContent(nan)])
def test_impossible_spreads_of_one_fraction_are_refused(spread: SpreadByContent) -> None:
    with pytest.raises(DistributionError):
        figures(good_run(between_run_clay=spread))
