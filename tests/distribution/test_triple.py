"""Sand, silt and clay stand in one order, in memory and where they are stored."""

from __future__ import annotations

import pytest

from particles.distribution import SandSiltClay, compute_distribution, explain, uncertainty_budget
from particles.distribution.plain import plain
from particles.distribution.triple import with_silt_between
from tests.support.runs import NINE, good_run


def test_silt_is_what_sand_and_clay_leave() -> None:
    assert with_silt_between(40.0, 25.0) == SandSiltClay(sand=40.0, silt=35.0, clay=25.0)


def test_stored_it_is_a_list_in_that_order() -> None:
    assert plain(SandSiltClay(sand=1.0, silt=2.0, clay=3.0)) == [1.0, 2.0, 3.0]


def test_every_place_that_holds_the_three_agrees() -> None:
    distribution = compute_distribution(good_run(), NINE, draws=2000)
    explanation, budget = explain(good_run(), NINE), uncertainty_budget(good_run(), NINE, draws=2000)
    fractions, covariance = distribution.fractions, distribution.covariance_pct2
    assert fractions is not None
    assert budget is not None
    assert covariance is not None
    for k, name in enumerate(SandSiltClay._fields):
        estimate = getattr(fractions, name)
        assert getattr(fractions.estimates, name) is estimate
        assert getattr(fractions.percents, name) == getattr(explanation, f"{name}_pct") == estimate.value_pct
        assert covariance[k][k] ** 0.5 == pytest.approx(estimate.standard_uncertainty_pct)
        drawn_pct = getattr(budget.drawn_together_pct, name)
        assert drawn_pct == pytest.approx(estimate.standard_uncertainty_pct)
