"""How much the bend of the points makes reading off doubtful, where it is known and over invented soils."""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot

import numpy as np
import pytest

from particles.benchmarks.coverage import Soil, Soils, smooth_soil, triangle_soil
from particles.benchmarks.reading_off import EDITIONS, at_clay_limits, reading_off_found
from particles.distribution import (
    METHOD_EDITIONS,
    Interpolation,
    MethodEdition,
    SizeDistribution,
    compute_distribution,
    uncertainty_budget,
)
from particles.distribution.curve.bend import END_WIDTH, Bend, bend_at
from particles.distribution.curve.points import by_size
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, figures, good_run, sieved
from tests.support.simulator import random_soil

SHARE = NINE.uncertainties.reading_off_share
BIAS = NINE.uncertainties.reading_off_bias
EVEN_UM = [exp(4.0 - k) for k in range(5)]


def corner_soil(random: np.random.Generator) -> Soil:
    """The other simulator's soils: narrower heaps, one in ten near a corner; not those of the calibration."""
    soil = random_soil(random)
    return Soil(100.0 * soil.sand, 100.0 * soil.clay, lambda um: 100.0 * soil.finer(um))


def _only_reading_off(share: float = SHARE, bias: float = 0.0) -> MethodEdition:
    doubt = replace(EXACT, reading_off_share=share, reading_off_bias=bias)
    return replace(NINE, dispersion_sd_pct=0.0, uncertainties=doubt)


def _bends(answer: SizeDistribution) -> tuple[Bend, Bend]:
    """At the clay and at the sand limit."""
    points = by_size(answer.points)
    sizes, percents = [p.diameter_um for p in points], [p.percent_finer_curve for p in points]
    return bend_at(sizes, percents, 2.0), bend_at(sizes, percents, 50.0)


def test_a_parabola_is_judged_by_its_curvature() -> None:
    """Percent a + b x + c x² in log diameter x: second differences are exact, each side suggests the whole error."""
    percents = [20.0 + 5.0 * x + 2.0 * x * x for x in (4.0, 3.0, 2.0, 1.0, 0.0)]
    x = 1.7
    straight = percents[2] + (2.0 - x) * (percents[3] - percents[2])
    wrong = straight - (20.0 + 5.0 * x + 2.0 * x * x)
    bend = bend_at(EVEN_UM, percents, exp(x))
    assert bend.bias_pct == pytest.approx(-wrong)
    assert bend.magnitude_pct == pytest.approx(wrong * 2**0.5)


def test_points_on_one_line_suggest_none_and_points_themselves_have_none() -> None:
    line = [80.0, 65.0, 50.0, 35.0, 20.0]
    assert bend_at(EVEN_UM, line, exp(1.7)).magnitude_pct == pytest.approx(0.0, abs=1e-12)
    bent = [80.0, 75.0, 50.0, 40.0, 20.0]
    for bend in (bend_at(EVEN_UM, bent, um) for um in EVEN_UM):
        assert (bend.bias_pct, bend.magnitude_pct) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_it_grows_with_the_square_of_the_gap() -> None:
    """Twice the distances and four times the drops of a parabola are the same curve read at half as many points."""
    half = [exp(2.0 - 0.5 * k) for k in range(5)]
    wide, near = ([x * x for x in xs] for xs in ((4.0, 3.0, 2.0, 1.0, 0.0), (2.0, 1.5, 1.0, 0.5, 0.0)))
    far, close = bend_at(EVEN_UM, wide, exp(1.5)), bend_at(half, near, exp(0.75))
    assert (far.bias_pct, far.magnitude_pct) == pytest.approx(
        (4.0 * close.bias_pct, 4.0 * close.magnitude_pct)
    )


def test_opposite_bends_leave_uncertainty_and_no_bias() -> None:
    """An even S: as much above the line as below it, so nobody knows which way it goes in between."""
    bend = bend_at(EVEN_UM, [90.0, 80.0, 50.0, 40.0, 30.0], exp(2.5))
    assert bend.bias_pct == pytest.approx(0.0, abs=1e-12)
    assert bend.magnitude_pct > 1.0


def test_the_cubic_bends_by_itself_inside_the_points_only() -> None:
    percents = [80.0, 75.0, 50.0, 40.0, 20.0]
    for um, inside in ((exp(1.7), True), (exp(-0.2), False)):
        straight, cubic = (bend_at(EVEN_UM, percents, um, rule) for rule in Interpolation)
        assert cubic.magnitude_pct == straight.magnitude_pct > 0.0
        assert cubic.bias_pct == (0.0 if inside else straight.bias_pct)
        assert straight.bias_pct != 0.0


def test_a_short_step_beside_the_gap_does_not_count_as_its_neighbour() -> None:
    """Noise of a point over 0.1 in log diameter would look like a sharp bend."""
    sizes, percents = [exp(x) for x in (4.0, 2.1, 2.0, 0.0)], [80.0, 52.0, 50.0, 30.0]
    noisy = [80.0, 53.0, 50.0, 30.0]
    assert bend_at(sizes, percents, exp(1.0)) == bend_at(sizes, noisy, exp(1.0))


def test_beyond_the_last_point_what_is_left_counts() -> None:
    """Two points: 100 % above and nothing below, each within the stated width."""
    sizes, percents, gap = [exp(1.0), exp(0.0)], [60.0, 40.0], 1.0
    bends = [2.0 * (20.0 - rest / END_WIDTH) / (gap + END_WIDTH) for rest in (40.0, 40.0)]
    assert bend_at(sizes, percents, exp(0.5)).magnitude_pct == pytest.approx(0.125 * hypot(*bends))


def test_nominal_figures_do_not_know_it() -> None:
    doubt = replace(NINE.uncertainties, reading_off_share=0.0, reading_off_bias=0.0)
    without = replace(NINE, uncertainties=doubt)
    assert figures(good_run()) == figures(good_run(), method=without)


def test_alone_it_is_share_times_bend_on_clay_and_sand() -> None:
    answer = figures(good_run(), method=_only_reading_off(), draws=20_000)
    assert answer.fractions is not None
    for part, bend in zip((answer.fractions.clay, answer.fractions.sand), _bends(answer), strict=True):
        assert part.standard_uncertainty_pct == pytest.approx(SHARE * bend.magnitude_pct, rel=0.03)
    assert answer.covariance_pct2 is not None
    assert answer.covariance_pct2[0][2] == pytest.approx(0.0, abs=0.02)


def test_the_bias_moves_the_intervals_and_not_the_figures() -> None:
    """Upwards where the curve lies above the line: clay up by the bias at 2 µm, sand down by that at 50 µm."""
    still, moved = (
        figures(good_run(), method=_only_reading_off(bias=bias), draws=2000) for bias in (0.0, BIAS)
    )
    clay, sand = _bends(still)
    assert still.fractions is not None
    assert moved.fractions is not None
    for name, by in (
        ("clay", clay.bias_pct),
        ("sand", -sand.bias_pct),
        ("silt", sand.bias_pct - clay.bias_pct),
    ):
        before, after = getattr(still.fractions, name), getattr(moved.fractions, name)
        assert after.value_pct == before.value_pct
        assert (after.low_pct, after.high_pct) == pytest.approx((before.low_pct + by, before.high_pct + by))
    assert abs(clay.bias_pct) > 0.1


def test_sand_from_a_sieve_at_the_limit_is_not_read_off() -> None:
    answer = figures(
        good_run(sieving=sieved(opening_um=50.0)), method=_only_reading_off(), draws=1000
    ).fractions
    assert answer is not None
    assert answer.sand.standard_uncertainty_pct == pytest.approx(0.0, abs=1e-9)
    assert (answer.clay.standard_uncertainty_pct or 0.0) > 0.1


def test_other_limits_are_read_off_too() -> None:
    """A system with its sand limit at 20 µm has chances of its own even if nothing else is doubtful."""
    method = replace(_only_reading_off(50.0), also_systems=("ISSS",), confirmed_systems=("ISSS",))
    (texture,) = figures(good_run(), method=method, draws=1000).other_textures
    assert len(texture.chances) > 1


def test_it_stands_in_the_budget_and_the_notes() -> None:
    budget = uncertainty_budget(good_run(), NINE)
    assert budget is not None
    line = next(each for each in budget.contributions if each.name == "reading off")
    alone = uncertainty_budget(good_run(), _only_reading_off())
    assert alone is not None
    assert line.standard_uncertainty_pct == pytest.approx(alone.combined_pct, rel=0.05)
    assert any("reading off between points" in note for note in compute_distribution(good_run(), NINE).notes)


def test_the_bias_and_the_shares_are_those_calibrated() -> None:
    """300 soils of other seeds than the calibration's: the bias as a mean, the shares for wide gaps."""
    found = at_clay_limits(triangle_soil, runs=300, seed=41)
    assert len(found) == len(EDITIONS) == 5
    assert sum(each.bias for each in found.values()) / len(found) == pytest.approx(BIAS, abs=0.1)
    for edition in (NINE, METHOD_EDITIONS["hydrometer-four-2026-4"]):
        assert 1.5 * found[edition.code].share == pytest.approx(
            edition.uncertainties.reading_off_share, abs=0.1
        )
    for edition in EDITIONS:
        assert 1.5 * found[edition.code].share < 1.1 * edition.uncertainties.reading_off_share


@pytest.mark.parametrize("soil", [smooth_soil, corner_soil], ids=["two heaps", "corners"])
def test_soils_of_other_spreads_bend_alike(soil: Soils) -> None:
    """For each edition on its own; were the form wrong, gaps of a factor 1.7 and of 3.9 would not agree."""
    by_edition = at_clay_limits(soil, runs=300, seed=43)
    assert len(by_edition) == 5
    for code, found in by_edition.items():
        assert found.bias == pytest.approx(BIAS, abs=0.3), code
        assert found.share < 0.85 * found.without_bias, code


def test_the_cubic_errs_less_on_the_nine() -> None:
    """So the share, calibrated for straight lines, keeps its intervals on the wide side."""
    straight, cubic = (
        reading_off_found(NINE, 2.0, triangle_soil, runs=200, seed=44, rule=rule) for rule in Interpolation
    )
    assert cubic.without_bias < 0.6 * straight.share < 0.6 * straight.without_bias


@pytest.mark.parametrize(("opening_um", "said"), [(53.0, True), (50.0, False)])
def test_the_notes_tell_of_a_sieve_beside_the_limit(opening_um: float, said: bool) -> None:
    as_weighed = replace(NINE, sand_at_limit=False)
    for method, words in ((NINE, "brought over"), (as_weighed, "counts as silt")):
        notes = figures(good_run(sieving=sieved(opening_um=opening_um)), method=method).notes
        assert any("sieve of 53 µm" in note and words in note for note in notes) == said
