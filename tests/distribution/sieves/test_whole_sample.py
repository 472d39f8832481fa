"""Gravel kept apart from the fine earth, and sand sieved out of another portion."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import SieveMass, percent_finer_at_size
from particles.distribution.errors import MassOutOfRangeError, SieveOrderError
from particles.distribution.sieves.gravel import gravel_pct
from tests.support.runs import figures, good_run, sieved

GRAVEL = (SieveMass(8000.0, 50.0), SieveMass(4000.0, 100.0), SieveMass(2000.0, 50.0))
GRAVELLY = good_run(gravel_sieves=GRAVEL, whole_sample_dry_mass_g=1000.0, sieving=sieved())


def test_fine_earth_stays_as_it_is() -> None:
    with_gravel, without = figures(GRAVELLY), figures(good_run(sieving=sieved()))
    assert with_gravel.curve == without.curve
    assert with_gravel.fractions == without.fractions


def test_whole_sample_curve_by_hand() -> None:
    answer = figures(GRAVELLY)
    whole = {point.diameter_um: point.percent_finer for point in answer.whole_sample_curve}
    assert (whole[8000.0], whole[4000.0], whole[2000.0]) == pytest.approx((95.0, 85.0, 80.0))
    for point in answer.curve:
        assert whole[point.diameter_um] == pytest.approx(0.8 * point.percent_finer)
    sizes = [point.diameter_um for point in answer.whole_sample_curve]
    assert sizes == sorted(sizes, reverse=True)
    assert any("whole sample" in note and "apart" in note for note in answer.notes)


def test_a_stated_gravel_content_serves_without_sieves() -> None:
    answer = figures(good_run(gravel_pct=25.0))
    assert [p.percent_finer for p in answer.whole_sample_curve] == pytest.approx(
        [0.75 * p.percent_finer for p in answer.curve]
    )


def test_no_whole_sample_curve_without_gravel() -> None:
    assert figures(good_run()).whole_sample_curve == ()
    assert gravel_pct(replace(GRAVELLY, gravel_sieves=GRAVEL[:2])) is None


@pytest.mark.parametrize(("stated", "warned"), [(20.4, False), (20.6, True), (19.4, True)])
def test_stated_and_sieved_gravel_are_compared(stated: float, warned: bool) -> None:
    record = replace(GRAVELLY, gravel_pct=stated)
    codes = {finding.code for finding in figures(record).findings}
    assert ("gravel_apart" in codes) is warned
    assert gravel_pct(record) == pytest.approx(20.0)


def test_less_stated_gravel_than_coarse_sieves_hold_contradicts_them() -> None:
    """Sieves that end above 2 mm leave gravel unweighed, so more may be stated, never less."""
    short = replace(GRAVELLY, gravel_sieves=GRAVEL[:2])
    for stated, warned in ((14.0, True), (14.8, False), (30.0, False)):
        found = figures(replace(short, gravel_pct=stated)).findings
        assert ("gravel_apart" in {finding.code for finding in found}) is warned


def test_gravel_sieves_without_the_mass_of_the_whole_sample() -> None:
    answer = figures(replace(GRAVELLY, whole_sample_dry_mass_g=None))
    assert "gravel_basis_missing" in {finding.code for finding in answer.findings}
    assert answer.whole_sample_curve == ()


def test_impossible_gravel_is_refused() -> None:
    with pytest.raises(SieveOrderError, match="finer than 2 mm"):
        figures(good_run(gravel_sieves=(SieveMass(1000.0, 5.0),), whole_sample_dry_mass_g=100.0))
    with pytest.raises(SieveOrderError):
        figures(replace(GRAVELLY, gravel_sieves=GRAVEL[::-1]))
    with pytest.raises(MassOutOfRangeError, match="200 g"):
        figures(replace(GRAVELLY, whole_sample_dry_mass_g=150.0))


def test_sand_of_another_portion_is_a_percentage_of_that_one() -> None:
    same = figures(good_run(sieving=sieved(opening_um=50.0)))
    other = figures(good_run(sieving=replace(sieved(opening_um=50.0), portion_oven_dry_mass_g=50.0)))
    assert same.fractions is not None
    assert other.fractions is not None
    assert other.fractions.sand.value_pct == pytest.approx(same.fractions.sand.value_pct * 40.0 / 50.0)
    assert other.fractions.clay == same.fractions.clay
    assert other.curve[0].percent_finer == pytest.approx(100.0 - 100.0 * 5.7 * 0.2 / 50.0)
    assert any("another portion of 50.00 g" in note for note in other.notes)


def test_another_portion_is_what_its_washed_sand_is_checked_against() -> None:
    small = replace(sieved(), portion_oven_dry_mass_g=5.0)
    assert "washed_above_portion" in {f.code for f in figures(good_run(sieving=small)).findings}
    with pytest.raises(MassOutOfRangeError):
        figures(good_run(sieving=replace(sieved(), portion_oven_dry_mass_g=0.0)))


@pytest.mark.parametrize(("sand_g", "code"), [(5.7, "join_accepted"), (8.2, "join_apart")])
def test_the_join_is_always_stated_with_its_number(sand_g: float, code: str) -> None:
    answer = figures(good_run(sieving=sieved(sand_g, sand_g + 0.3)))
    joins = [finding for finding in answer.findings if finding.code.startswith("join")]
    assert [join.code for join in joins] == [code]
    hydrometer = percent_finer_at_size(figures(good_run()).curve, (53.0,))[0]
    assert hydrometer is not None
    assert joins[0].number == pytest.approx(100.0 - 100.0 * sand_g / 40.0 - hydrometer)
