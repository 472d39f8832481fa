"""How much to weigh, and when to read next."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.path import Path

from particles.distribution import (
    USDA_POLYGONS,
    DepthLine,
    Hydrometer,
    HydrometerScale,
    ReadingPoint,
    SandSiltClay,
    compute_distribution,
    next_reading_advice,
    portion_advice,
)
from particles.distribution.advice.expected import ExpectedCurve, class_centre
from particles.distribution.advice.portion import Bath
from particles.distribution.errors import UnknownTextureError
from tests.support.runs import NINE, STEM_152H, good_run

STEM_151H = Hydrometer(
    "H-02", HydrometerScale.RELATIVE_DENSITY, DepthLine(16.295, 264.5), 0.0005, 1.2, 0.995, 1.038
)


@pytest.mark.parametrize("name", USDA_POLYGONS)
def test_centre_of_a_class_is_that_of_its_polygon(name: str) -> None:
    """Against the mean of a fine grid over the polygon."""
    grid = np.stack(np.meshgrid(np.arange(0.05, 100, 0.1), np.arange(0.05, 100, 0.1)), axis=-1).reshape(-1, 2)
    ring = Path([(sand, clay) for sand, _, clay in USDA_POLYGONS[name]])
    middle = grid[ring.contains_points(grid)].mean(axis=0)
    sand, silt, clay = class_centre(name)
    assert (sand, clay) == pytest.approx(tuple(middle), abs=0.05)
    assert sand + silt + clay == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("expected", "low_g", "high_g"),
    [("clay", 20, 40), ("silty clay", 20, 30), ("loam", 40, 50), ("sandy loam", 75, 100), ("sand", 75, 100)],
)
def test_masses_are_those_of_the_rule_of_thumb(expected: str, low_g: float, high_g: float) -> None:
    """Common practice: about 20 to 30 g above 50 % clay, 40 to 50 g of loams, 75 to 100 g of sands."""
    assert low_g <= portion_advice(expected, NINE, STEM_152H).recommended.mass_g <= high_g


def test_a_predicted_reading_gives_the_expected_fractions_back() -> None:
    """A run read exactly as predicted must come out as what was expected."""
    parts = SandSiltClay(40.0, 38.0, 22.0)
    blank, record = 4.6, good_run(oven_dry_mass_g=50.0)
    bath = Bath(STEM_152H, 20.0, 2.65, 5.0, blank, 1000.0)
    curve = ExpectedCurve(parts)
    readings = tuple(
        ReadingPoint(
            t,
            20.0,
            reading=bath.shown(bath.soil_g_l(50.0, curve, t)),
            blank_reading=blank,
            blank_temperature_c=20.0,
        )
        for t in NINE.schedule_s
    )
    answer = compute_distribution(replace(record, readings=readings), NINE, draws=0)
    assert len(answer.points) == 9
    for point in answer.points:
        assert point.percent_finer == pytest.approx(curve.percent_finer(point.diameter_um), abs=0.01)


def test_targets_are_named_when_missed() -> None:
    advice = portion_advice("sand", NINE, STEM_152H)
    assert not advice.recommended.within_targets
    assert "last corrected reading" in advice.sentence
    heavy = {
        candidate.mass_g: candidate for candidate in portion_advice("silt loam", NINE, STEM_152H).candidates
    }
    assert not heavy[100.0].on_stem
    assert "off the stem" in heavy[100.0].shortfall
    assert heavy[50.0].shortfall == ""


def test_more_soil_means_less_doubt_and_a_higher_reading() -> None:
    candidates = portion_advice(SandSiltClay(30.0, 50.0, 20.0), NINE, STEM_152H).candidates
    doubts = [candidate.clay_standard_uncertainty_pct for candidate in candidates]
    assert doubts == sorted(doubts, reverse=True)
    assert [c.first_reading for c in candidates] == sorted(c.first_reading for c in candidates)


def test_simple_doubt_lies_near_the_drawn_one() -> None:
    answer = compute_distribution(good_run(), NINE, draws=4000, seed=1)
    assert answer.fractions is not None
    drawn = answer.fractions.clay.standard_uncertainty_pct
    clay = answer.fractions.clay.value_pct
    parts = SandSiltClay(100.0 - clay - 60.0, 60.0, clay)
    simple = next(c for c in portion_advice(parts, NINE, STEM_152H).candidates if c.mass_g == 40.0)
    assert simple.clay_standard_uncertainty_pct == pytest.approx(drawn, rel=0.12)


def test_the_laboratorys_own_between_run_figure_takes_the_place_of_the_editions() -> None:
    usual, own = (
        portion_advice("loam", NINE, STEM_152H, between_run_sd_pct=sd_pct).recommended
        for sd_pct in (None, 3.0)
    )
    assert own.mass_g == usual.mass_g
    variances = [each.clay_standard_uncertainty_pct**2 for each in (usual, own)]
    assert variances[1] - variances[0] == pytest.approx(3.0**2 - NINE.dispersion_sd_pct**2)


def test_both_stems_give_the_same_advice() -> None:
    grams, density = (portion_advice("loam", NINE, stem).recommended for stem in (STEM_152H, STEM_151H))
    assert density.mass_g == grams.mass_g
    assert 1.01 < density.first_reading < 1.03
    assert density.first_corrected_g_l == pytest.approx(grams.first_corrected_g_l, rel=0.02)


@pytest.mark.parametrize(
    "expected", ["gravel", SandSiltClay(50.0, 50.0, 50.0), SandSiltClay(-1.0, 50.0, 51.0)]
)
def test_what_cannot_be_expected_is_refused(expected: str | SandSiltClay[float]) -> None:
    with pytest.raises(UnknownTextureError):
        portion_advice(expected, NINE, STEM_152H)


def test_after_the_first_reading_the_next_two_times_are_named() -> None:
    record = good_run()
    sand, clay = next_reading_advice(replace(record, readings=record.readings[:1]), NINE, 31.0)
    assert (sand.limit_name, sand.limit_um, sand.bracketed, sand.take_at_s) == ("sand", 50.0, False, (60.0,))
    assert sand.passes_at_s == pytest.approx(42.9, abs=0.1)
    assert clay.take_at_s == (86400.0,)
    assert "24 h" in clay.sentence


def test_a_reading_at_the_passing_time_lies_at_the_limit() -> None:
    """At the temperature and the reading of the last slot the size must be the limit itself."""
    record = good_run()
    clay = next_reading_advice(replace(record, readings=record.readings[:8]), NINE, 8000.0)[1]
    assert clay.passes_at_s is not None
    then = replace(record.readings[7], elapsed_s=clay.passes_at_s)
    answer = compute_distribution(replace(record, readings=(*record.readings[:8], then)), NINE, draws=0)
    assert answer.points[-1].diameter_um == pytest.approx(2.0, rel=1e-9)


def test_warmth_brings_the_limit_forward() -> None:
    record = good_run()
    warm = replace(record, readings=tuple(replace(p, temperature_c=26.0) for p in record.readings[:8]))
    cool = replace(record, readings=record.readings[:8])
    warm_s, cool_s = (next_reading_advice(each, NINE, 8000.0)[1].passes_at_s for each in (warm, cool))
    assert warm_s is not None
    assert cool_s is not None
    assert warm_s < 0.93 * cool_s


def test_bracketed_limits_need_nothing_more() -> None:
    sand, clay = next_reading_advice(good_run(), NINE, 90000.0)
    assert (sand.bracketed, clay.bracketed, clay.take_at_s) == (True, True, ())


def test_a_sand_limit_that_passed_unread_is_said() -> None:
    record = good_run()
    sand = next_reading_advice(replace(record, readings=record.readings[1:2]), NINE, 200.0)[0]
    assert not sand.bracketed
    assert sand.take_at_s == ()
    assert "sieve" in sand.sentence


def test_beyond_the_schedule_ten_percent_to_either_side() -> None:
    short = replace(NINE, schedule_s=(30.0, 60.0, 3600.0))
    record = good_run()
    clay = next_reading_advice(replace(record, readings=record.readings[:6]), short, 4000.0)[1]
    assert clay.passes_at_s is not None
    assert clay.take_at_s == (pytest.approx(1.1 * clay.passes_at_s),)


def test_nothing_read_yet() -> None:
    sand, clay = next_reading_advice(replace(good_run(), readings=good_run().readings[:1]), NINE, 10.0)
    assert sand.take_at_s == clay.take_at_s == (30.0,)
    assert sand.passes_at_s is None
