"""How much the bend of the points makes reading off doubtful, where it is known and over invented soils."""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot

import numpy as np
import pytest

from particles.benchmarks.coverage import Soil, Soils, smooth_soil, triangle_soil
from particles.benchmarks.reading_off import EDITIONS, clay_shares, share_found
from particles.distribution import Interpolation, MethodEdition, compute_distribution, uncertainty_budget
from particles.distribution.fractions import by_size
from particles.distribution.methods import InputUncertainties
from particles.distribution.reading_off import END_WIDTH, bend_error_pct

from .runs import NINE, figures, good_run, sieved
from .simulator import random_soil
from .test_covariance import EXACT

SHARE = InputUncertainties().reading_off_share
EVEN_UM = [exp(4.0 - k) for k in range(5)]


def corner_soil(random: np.random.Generator) -> Soil:
    """The other simulator's soils: narrower heaps, one in ten near a corner; not those of the calibration."""
    soil = random_soil(random)
    return Soil(100.0 * soil.sand, 100.0 * soil.clay, lambda um: 100.0 * soil.finer(um))


def _only_reading_off(share: float = SHARE) -> MethodEdition:
    return replace(NINE, dispersion_sd_pct=0.0, uncertainties=replace(EXACT, reading_off_share=share))


def test_a_parabola_is_judged_by_its_curvature() -> None:
    """Percent a + b x + c x² in log diameter x: second differences are exact, each side suggests the whole error."""
    percents = [20.0 + 5.0 * x + 2.0 * x * x for x in (4.0, 3.0, 2.0, 1.0, 0.0)]
    x = 1.7
    straight = percents[2] + (2.0 - x) * (percents[3] - percents[2])
    wrong = straight - (20.0 + 5.0 * x + 2.0 * x * x)
    assert bend_error_pct(EVEN_UM, percents, exp(x)) == pytest.approx(wrong * 2**0.5)


def test_points_on_one_line_suggest_none_and_points_themselves_have_none() -> None:
    line = [80.0, 65.0, 50.0, 35.0, 20.0]
    assert bend_error_pct(EVEN_UM, line, exp(1.7)) == pytest.approx(0.0, abs=1e-12)
    bent = [80.0, 75.0, 50.0, 40.0, 20.0]
    assert [bend_error_pct(EVEN_UM, bent, um) for um in EVEN_UM] == pytest.approx([0.0] * 5, abs=1e-9)


def test_it_grows_with_the_square_of_the_gap() -> None:
    """Twice the distances and four times the drops of a parabola are the same curve read at half as many points."""
    half = [exp(2.0 - 0.5 * k) for k in range(5)]
    wide, near = ([x * x for x in xs] for xs in ((4.0, 3.0, 2.0, 1.0, 0.0), (2.0, 1.5, 1.0, 0.5, 0.0)))
    middle = bend_error_pct(EVEN_UM, wide, exp(1.5)), bend_error_pct(half, near, exp(0.75))
    assert middle[0] == pytest.approx(4.0 * middle[1])


def test_a_short_step_beside_the_gap_does_not_count_as_its_neighbour() -> None:
    """Noise of a point over 0.1 in log diameter would look like a sharp bend."""
    sizes, percents = [exp(x) for x in (4.0, 2.1, 2.0, 0.0)], [80.0, 52.0, 50.0, 30.0]
    noisy = [80.0, 53.0, 50.0, 30.0]
    assert bend_error_pct(sizes, percents, exp(1.0)) == bend_error_pct(sizes, noisy, exp(1.0))


def test_beyond_the_last_point_what_is_left_counts() -> None:
    """Two points: 100 % above and nothing below, each within the stated width."""
    sizes, percents, gap = [exp(1.0), exp(0.0)], [60.0, 40.0], 1.0
    bends = [2.0 * (20.0 - rest / END_WIDTH) / (gap + END_WIDTH) for rest in (40.0, 40.0)]
    assert bend_error_pct(sizes, percents, exp(0.5)) == pytest.approx(0.125 * hypot(*bends))


def test_nominal_figures_do_not_know_it() -> None:
    without = replace(NINE, uncertainties=replace(NINE.uncertainties, reading_off_share=0.0))
    assert figures(good_run()) == figures(good_run(), method=without)


def test_alone_it_is_share_times_bend_on_clay_and_sand() -> None:
    answer = figures(good_run(), method=_only_reading_off(), draws=20_000)
    points = by_size(answer.points)
    sizes, percents = [p.diameter_um for p in points], [p.percent_finer_curve for p in points]
    assert answer.fractions is not None
    for part, limit_um in ((answer.fractions.clay, 2.0), (answer.fractions.sand, 50.0)):
        expected = SHARE * bend_error_pct(sizes, percents, limit_um)
        assert part.standard_uncertainty_pct == pytest.approx(expected, rel=0.03)
    assert answer.covariance_pct2 is not None
    assert answer.covariance_pct2[0][2] == pytest.approx(0.0, abs=0.02)


def test_sand_from_a_sieve_is_not_read_off() -> None:
    answer = figures(good_run(sieving=sieved()), method=_only_reading_off(), draws=1000).fractions
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


def test_the_share_is_the_one_calibrated() -> None:
    """300 soils of other seeds than the calibration's: the mean over editions."""
    found = clay_shares(triangle_soil, runs=300, seed=41)
    assert len(found) == len(EDITIONS) == 5
    assert sum(found.values()) / len(found) == pytest.approx(SHARE, abs=0.05)


@pytest.mark.parametrize("soil", [smooth_soil, corner_soil], ids=["two heaps", "corners"])
def test_soils_of_other_spreads_need_the_same_share(soil: Soils) -> None:
    """For each edition on its own; were the form wrong, gaps of a factor 1.7 and of 3.9 would not agree."""
    for code, share in clay_shares(soil, runs=300, seed=43).items():
        assert share == pytest.approx(SHARE, abs=0.17), code


def test_the_cubic_errs_less_on_the_nine() -> None:
    """So the share, calibrated for straight lines, keeps its intervals on the wide side."""
    straight, cubic = (
        share_found(NINE, 2.0, triangle_soil, runs=200, seed=44, rule=rule) for rule in Interpolation
    )
    assert cubic < 0.6 * straight
