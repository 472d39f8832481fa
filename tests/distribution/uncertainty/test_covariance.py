"""How sand, silt and clay move together, and class chances where they are known."""

from __future__ import annotations

from dataclasses import fields, replace
from math import log

import numpy as np
import pytest

from particles.benchmarks.coverage import Soil, observed_run
from particles.distribution import InputUncertainties, RunRecord, compute_distribution, from_plain, to_plain
from tests.support.runs import NINE, figures, good_run, sieved

EXACT = InputUncertainties(**{each.name: 0.0 for each in fields(InputUncertainties)})
SECTION_13 = replace(
    NINE,
    dispersion_sd_pct=0.0,
    uncertainties=replace(InputUncertainties(), start_s=2.0, reading_off_share=0.0, reading_off_bias=0.0),
)
"""Inputs of the reference's section 13: one blank for the run, no spread between runs and no bend."""


def clay_loam() -> RunRecord:
    """A run of 32 % sand and 27.3 % clay, 40 g, read to the last digit; invented."""
    slope = (100.0 - 32.0 - 27.3) / log(25.0)
    soil = Soil(32.0, 27.3, lambda um: 27.3 + slope * log(um / 2.0))
    exact = replace(NINE, uncertainties=replace(EXACT, scale_division_g_l=1e-6))
    return observed_run(soil, exact, np.random.Generator(np.random.PCG64(1)), sieved=False)


def test_rows_add_up_to_nothing_and_the_diagonal_is_the_variance() -> None:
    answer = compute_distribution(good_run(), NINE)
    assert answer.covariance_pct2 is not None
    assert answer.fractions is not None
    covariance = np.array(answer.covariance_pct2)
    parts = (answer.fractions.sand, answer.fractions.silt, answer.fractions.clay)
    assert covariance == pytest.approx(covariance.T)
    assert covariance.sum(axis=0) == pytest.approx([0.0] * 3, abs=1e-9)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([p.standard_uncertainty_pct for p in parts])


def test_without_draws_there_is_none() -> None:
    answer = figures(good_run())
    assert (answer.covariance_pct2, answer.random_source, answer.between_run_sd_pct) == (None, "", None)


def test_it_survives_the_way_to_json_and_back() -> None:
    answer = compute_distribution(good_run(sieving=sieved()), NINE)
    assert from_plain(to_plain(answer)) == answer


def test_correlations_of_a_clay_loam() -> None:
    """Reference section 13: clay with silt about -0.4, clay with sand about -0.5, from a simulation there."""
    answer = figures(clay_loam(), method=SECTION_13, draws=50_000)
    covariance = np.array(answer.covariance_pct2)
    spread = np.sqrt(np.diag(covariance))
    _, with_silt, _ = (covariance / np.outer(spread, spread))[2]
    with_sand = covariance[2, 0] / spread[2] / spread[0]
    assert with_silt == pytest.approx(-0.4, abs=0.12)
    assert with_sand == pytest.approx(-0.5, abs=0.12)


def test_spreads_of_a_clay_loam() -> None:
    """Reference section 13: about 1.1 sand, 1.0 silt, 1.0 clay without the spread between runs."""
    answer = figures(clay_loam(), method=SECTION_13, draws=50_000).fractions
    assert answer is not None
    found = [part.standard_uncertainty_pct for part in (answer.sand, answer.silt, answer.clay)]
    assert found == pytest.approx([1.1, 1.0, 1.0], abs=0.15)


def test_class_chances_of_a_clay_loam() -> None:
    """Reference section 13: 62 % clay loam and 38 % loam at 27.3 % clay, from a simulation there."""
    texture = figures(clay_loam(), method=SECTION_13, draws=50_000).texture
    assert texture is not None
    assert dict(texture.chances) == pytest.approx({"clay loam": 0.62, "loam": 0.38}, abs=0.03)


def test_a_shared_blank_alone_moves_clay_and_sand_against_each_other() -> None:
    blank = replace(NINE, dispersion_sd_pct=0.0, uncertainties=replace(EXACT, blank_g_l=0.3))
    answer = figures(good_run(), method=blank, draws=2000)
    assert answer.covariance_pct2 is not None
    sand, silt, clay = (answer.covariance_pct2[k][k] for k in range(3))
    assert answer.covariance_pct2[0][2] == pytest.approx(-((sand * clay) ** 0.5), rel=1e-6)
    assert silt == pytest.approx(0.0, abs=1e-9)
