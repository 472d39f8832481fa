"""What each input contributes, against figures known without draws."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import RunRecord, compute_distribution, uncertainty_budget
from particles.distribution.method.edition import InputUncertainties
from particles.distribution.uncertainty.budget import INPUTS
from tests.distribution.uncertainty.test_covariance import SECTION_13, clay_loam
from tests.distribution.uncertainty.test_uncertainty import _only, _sds
from tests.support.runs import NINE, TWO, good_run, sieved, with_reading, with_values

FLAT = with_values(40.0, 39.5, 39.0, 38.5, 38.5, 38.0, 38.0, 38.0, 37.5)
SANDY = with_values(12.0, 9.0, 7.5, 6.5, 6.5, 6.0, 6.0, 6.0, 5.5)


@pytest.mark.parametrize(
    "record",
    [good_run(), good_run(sieving=sieved()), clay_loam(), FLAT, SANDY],
    ids=["loam", "sieved", "clay loam", "flat", "sandy"],
)
def test_contributions_add_up_to_all_inputs_drawn_together(record: RunRecord) -> None:
    budget = uncertainty_budget(record, NINE)
    assert budget is not None
    assert budget.combined_pct == pytest.approx(budget.drawn_together_pct, rel=0.1)


def test_shares_add_up_and_fall() -> None:
    budget = uncertainty_budget(good_run(), NINE)
    assert budget is not None
    for k in range(3):
        assert sum(each.share[k] for each in budget.contributions) == pytest.approx(1.0)
    sums = [sum(u * u for u in each.standard_uncertainty_pct) for each in budget.contributions]
    assert sums == sorted(sums, reverse=True)
    assert budget.contributions[0].name == "between runs"


def test_every_stated_uncertainty_has_its_place() -> None:
    held = [field for names in INPUTS.values() for field in names]
    assert sorted(held) == sorted(InputUncertainties.__dataclass_fields__)


def test_each_line_is_what_the_input_does_alone() -> None:
    budget = uncertainty_budget(good_run(), NINE, draws=20_000)
    assert budget is not None
    lines = {each.name: each.standard_uncertainty_pct for each in budget.contributions}
    for name, alone in (
        ("blank", _only(blank_g_l=0.1, blank_reading_g_l=0.35, thermometer_c=0.2)),
        ("particle density", _only(particle_density_g_cm3=0.05)),
        ("start", _only(start_s=1.0)),
        ("depth", _only(depth_cm=0.2)),
    ):
        assert lines[name][::-1] == pytest.approx(_sds(alone), rel=0.03, abs=0.003)


@pytest.mark.parametrize(
    ("name", "sand", "silt", "clay"),
    [
        ("reading", 0.62, 0.87, 0.60),
        ("scale division", 0.36, 0.5, 0.36),
        ("blank", 0.76, 0.0, 0.76),
        ("particle density", 0.50, 0.31, 0.19),
        ("temperature", 0.10, 0.05, 0.05),
        ("start", 0.26, 0.26, 0.00),
        ("depth", 0.14, 0.08, 0.05),
        ("volume", 0.20, 0.12, 0.08),
        ("moisture", 0.20, 0.12, 0.08),
        ("mass", 0.08, 0.05, 0.03),
    ],
)
def test_contributions_to_a_clay_loam(name: str, sand: float, silt: float, clay: float) -> None:
    """Reference section 13, table of effects from a simulation of another clay loam there."""
    budget = uncertainty_budget(clay_loam(), SECTION_13)
    assert budget is not None
    found = next(each for each in budget.contributions if each.name == name)
    assert found.standard_uncertainty_pct == pytest.approx((sand, silt, clay), abs=0.17)


def test_sieves_count_only_where_sand_is_sieved() -> None:
    for record, expected in ((good_run(), 0.0), (good_run(sieving=sieved()), 0.02 * 3**0.5 / 40 * 100)):
        budget = uncertainty_budget(record, NINE)
        assert budget is not None
        found = next(each for each in budget.contributions if each.name == "sieve masses")
        assert found.standard_uncertainty_pct[0] == pytest.approx(expected, rel=0.03)


def test_same_record_same_budget() -> None:
    assert uncertainty_budget(good_run(), NINE) == uncertainty_budget(good_run(), NINE)


def test_without_fractions_there_is_none() -> None:
    assert uncertainty_budget(replace(good_run(), readings=good_run().readings[:4]), NINE) is None
    assert uncertainty_budget(good_run(), TWO) is None
    assert uncertainty_budget(replace(good_run(), oven_dry_mass_g=None), NINE) is None


def test_an_interpolated_blank_weighs_more() -> None:
    """Where the edition lets a forgotten blank be filled in, its wider doubt is in the budget as in the interval."""
    method = replace(NINE, interpolate_missing_blank=True)
    forgotten = with_reading(7, blank_reading=None, blank_temperature_c=None)
    budgets = [uncertainty_budget(record, method) for record in (good_run(), forgotten)]
    whole, filled = (
        next(line for line in budget.contributions if line.name == "blank") for budget in budgets if budget
    )
    assert filled.standard_uncertainty_pct[2] > 1.05 * whole.standard_uncertainty_pct[2]
    answer = compute_distribution(forgotten, method, draws=10_000).fractions
    assert answer is not None
    assert budgets[1] is not None
    assert answer.clay.standard_uncertainty_pct == pytest.approx(budgets[1].combined_pct[2], rel=0.05)


def test_the_bias_is_how_far_the_intervals_move() -> None:
    """Against the same draws without it; it adds no spread of its own."""
    still = replace(NINE, uncertainties=replace(NINE.uncertainties, reading_off_bias=0.0))
    budget, without = (uncertainty_budget(good_run(), method) for method in (NINE, still))
    moved, unmoved = (compute_distribution(good_run(), method).fractions for method in (NINE, still))
    assert budget is not None
    assert without is not None
    assert moved is not None
    assert unmoved is not None
    for name, bias_pct in zip(("sand", "silt", "clay"), budget.bias_pct, strict=True):
        assert getattr(moved, name).low_pct - getattr(unmoved, name).low_pct == pytest.approx(bias_pct)
    assert abs(budget.bias_pct[2]) > 0.1
    assert without.bias_pct == (0.0, 0.0, 0.0)
    assert budget.drawn_together_pct == pytest.approx(without.drawn_together_pct)
