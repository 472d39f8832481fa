"""Robust middle and spread against published examples, scipy and invented pairs."""

from __future__ import annotations

from math import sqrt
from statistics import stdev
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2, median_abs_deviation, norm

from batches.quality import robust
from batches.quality.robust import (
    algorithm_a,
    algorithm_s,
    median_deviation_sd,
    sd_of_pairs,
    sd_of_pairs_by_median,
)
from batches.quality.spread_by_content import LEAST_PAIRS, spread_by_content
from particles.distribution.record import SpreadByContent, content_shape
from tests.batches.quality.published import DUPLICATES, REPEATABILITY, ROBUST

CASES = {each["name"].split(",")[0]: each for each in ROBUST["algorithm_A"]["cases"]}
GEAR = ROBUST["gear_data"]["batches"]


def test_the_constants_are_those_of_the_normal_law() -> None:
    # Checked with scipy's normal and chi-squared laws.
    reach = robust.REACH_SD
    kept = chi2.cdf(reach**2, 3) + reach**2 * chi2.sf(reach**2, 1)
    assert pytest.approx(1 / sqrt(kept), abs=1e-9) == robust.SD_PER_PULLED
    assert pytest.approx(1 / norm.ppf(0.75), abs=1e-9) == robust.SD_PER_MEDIAN_DEVIATION
    limit = sqrt(chi2.ppf(0.9, 1))
    assert pytest.approx(limit, abs=1e-9) == robust.PAIR_REACH
    assert pytest.approx(1 / sqrt(chi2.cdf(limit**2, 3) + 0.1 * limit**2), abs=1e-9) == robust.PAIR_SPREAD
    # Source S31: the table of factors of algorithm S for one degree of freedom.
    assert pytest.approx(ROBUST["algorithm_S"]["constants"]["nu=1"], abs=5e-7) == [
        robust.PAIR_REACH,
        robust.PAIR_SPREAD,
    ]


@pytest.fixture
def cut_constants(monkeypatch: pytest.MonkeyPatch) -> None:
    """The constants as the standard prints them; the examples were computed with these."""
    monkeypatch.setattr(robust, "SD_PER_PULLED", 1.134)
    monkeypatch.setattr(robust, "SD_PER_MEDIAN_DEVIATION", 1.483)


@pytest.mark.usefixtures("cut_constants")
def test_the_nine_laboratories_are_met_after_four_rounds_and_when_nothing_moves() -> None:
    # Source S27: the standard's printed answer is that of the fourth round; the limit is 3 % larger.
    case: Any = CASES["creosote"]
    for rounds, expected in enumerate(case["iterations"]):
        found = algorithm_a(case["x"], iterations=rounds)
        assert [found.mean, found.sd] == pytest.approx(expected, abs=5.1e-5), rounds
    settled = algorithm_a(case["x"])
    assert [settled.mean, settled.sd] == pytest.approx(case["converged"], abs=5.1e-6)


def test_the_copper_in_flour_is_met_with_exact_constants() -> None:
    # Source S28: The Analyst 114 (1989) 1693; 24 values of which one is tenfold.
    case: Any = CASES["copper in flour"]
    found = algorithm_a(case["x"])
    assert [found.mean, found.sd] == pytest.approx(case["expect"]["exact_constants"], abs=1e-6)
    assert median_deviation_sd(case["x"]) == pytest.approx(case["expect"]["scaled_MAD_1.4826"], abs=5e-5)


@pytest.mark.usefixtures("cut_constants")
@pytest.mark.parametrize("name", ["seven values", "six values", "copper in flour"])
def test_short_series_with_an_outlier_are_met(name: str) -> None:
    # Sources S28, S29 and S30.
    case: Any = CASES[name]
    found = algorithm_a(case["x"])
    assert [found.mean, found.sd] == pytest.approx(
        [case["expect"]["x_star"], case["expect"]["s_star"]], rel=5e-6
    )


@pytest.mark.usefixtures("cut_constants")
def test_the_six_values_are_met_after_five_rounds() -> None:
    # Source S30.
    case: Any = CASES["six values"]
    found = algorithm_a(case["x"], iterations=5)
    assert [found.mean, found.sd] == pytest.approx(case["expect"]["after_5"], abs=5.1e-6)


@pytest.mark.usefixtures("cut_constants")
def test_the_hundred_gears_are_met() -> None:
    # Source S32 for the data.
    found = algorithm_a([value for batch in GEAR for value in batch])
    assert [found.mean, found.sd] == pytest.approx([0.9977638, 0.00521178], abs=5e-8)


def test_the_gears_pooled_by_algorithm_s_come_near_the_published_spread() -> None:
    # Source S31: 0.005335508, whose iteration stops early: 0.1 %.
    case = ROBUST["algorithm_S"]["case"]
    reach, adjusted = ROBUST["algorithm_S"]["constants"]["nu=9"]
    found = algorithm_s([stdev(batch) for batch in GEAR], reach=reach, adjusted=adjusted)
    assert found == pytest.approx(case["published"], rel=1e-3)
    assert found == pytest.approx(case["recalc_converged"], abs=5e-9)


def test_the_ten_assays_have_their_printed_median_deviation() -> None:
    # Source S20: scaled median deviation printed as 0.22.
    values = ROBUST["outlier_check"]["x"]
    assert round(median_deviation_sd(values), 2) == ROBUST["outlier_check"]["published"]["scaled_MAD"]


def test_the_median_deviation_is_that_of_scipy() -> None:
    values = np.random.default_rng(20261127).normal(20, 3, 41).tolist()
    assert median_deviation_sd(values) == pytest.approx(
        median_abs_deviation(values, scale="normal"), rel=1e-9
    )


def test_values_of_which_most_are_equal_have_no_spread_and_end() -> None:
    assert algorithm_a([5.0, 5.0, 5.0, 9.0]).sd == 0.0
    assert sd_of_pairs([(20.0, 20.0)] * 9) == 0.0


def test_ten_pairs_of_clay_give_the_spread_by_their_median() -> None:
    # Formulas of S18 and S19; the pairs are constructed.
    worked = DUPLICATES["worked"][0]
    assert sd_of_pairs_by_median(worked["pairs"]) == pytest.approx(worked["expect"]["s_r_robust"], abs=5e-5)


def pairs(n: int, sd: Any, seed: int = 7) -> list[tuple[float, float]]:
    """Invented pairs over all contents, each value with the spread that its content has."""
    random = np.random.default_rng(seed)
    contents = random.uniform(2, 60, n)
    return [(x + random.normal(0, sd(x)), x + random.normal(0, sd(x))) for x in contents]


def test_the_spread_of_pairs_is_right_without_wild_ones_and_stays_with_one() -> None:
    quiet = pairs(4000, lambda _: 0.8)
    assert sd_of_pairs(quiet) == pytest.approx(0.8, rel=0.03)
    few = quiet[:14]
    poisoned = [*few, (61.2, 20.0)]
    pooled = sqrt(sum((a - b) ** 2 for a, b in poisoned) / (2 * len(poisoned)))
    assert pooled > 7
    assert sd_of_pairs(poisoned) < 1.25 * sd_of_pairs(few)


def test_the_shape_over_contents_is_the_published_one() -> None:
    # Source S48: 17 laboratories, √(X(100 - X)) for fifteen contents.
    for row in REPEATABILITY["sieving"]["table"]:
        assert 50 * content_shape(row["X"]) == pytest.approx(row["sqrt"], abs=5e-3), row


def test_a_spread_that_rises_with_content_is_found() -> None:
    truth = SpreadByContent(0.3, 1.2)
    found = spread_by_content(pairs(3000, truth.at))
    assert found.level_pct == pytest.approx(truth.level_pct, abs=0.1)
    assert found.rise_pct == pytest.approx(truth.rise_pct, rel=0.06)


def test_a_flat_spread_and_one_of_too_few_pairs_stay_one_figure() -> None:
    assert spread_by_content(pairs(200, lambda _: 0.8)).rise_pct == 0.0
    rising = pairs(LEAST_PAIRS - 1, SpreadByContent(0.1, 3.0).at)
    assert spread_by_content(rising) == SpreadByContent(sd_of_pairs(rising), 0.0)


def test_pairs_at_one_content_tell_of_no_rise() -> None:
    alike = [(20.0 + d, 20.0) for d in (0.5, -0.7, 0.9, -0.2) * 10]
    assert spread_by_content(alike).rise_pct == 0.0


def test_a_rise_is_cried_falsely_in_few_of_flat_series() -> None:
    found = [spread_by_content(pairs(40, lambda _: 0.8, seed)).rise_pct > 0 for seed in range(100)]
    assert sum(found) <= 8
