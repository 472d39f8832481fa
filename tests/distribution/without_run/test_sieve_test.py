"""A stack of sieves by itself gets the checks of a run; a washed one is judged on what went on the stack."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import CurvePoint, DistributionError, Finding, SieveMass, compute_distribution
from particles.distribution.without_run.sieve_test import SieveTest, sieve_test
from tests.support.planted_sheets import WASHED_SAND, WITH_HYDROMETER, hydrometer, passing
from tests.support.runs import NINE, good_run, sieved


def found(test: SieveTest) -> list[tuple[str, str]]:
    return [(each.code, str(each.severity)) for each in sieve_test(test).findings]


def finding_of(test: SieveTest, code: str) -> Finding:
    (one,) = [each for each in sieve_test(test).findings if each.code == code]
    return one


def test_a_washed_sand_is_sound_and_its_fines_are_counted_once_bench_fault_83() -> None:
    """Bench fault 83: fines = start - washed + pan, beside what the finest sieve passed by difference."""
    result = sieve_test(WASHED_SAND)
    assert result.findings == ()
    assert result.fines is not None
    assert (result.fines.washed_away_g, result.fines.pan_g) == (40.0, 1.0)
    assert result.fines.percent == pytest.approx(41.0)
    assert result.fines.passing_pct == pytest.approx(41.0), "nothing was lost, so both ways agree"


def test_a_loss_shows_as_the_difference_of_both_ways_bench_fault_83() -> None:
    """Bench fault 83: half a gram lost on the stack passes by difference and is no fines."""
    result = sieve_test(replace(WASHED_SAND, sieves=(SieveMass(250.0, 29.5), SieveMass(75.0, 29.0))))
    assert result.fines is not None
    assert result.fines.passing_pct - result.fines.percent == pytest.approx(0.5)
    assert [each.code for each in result.findings] == ["sieve_loss_small"]


def test_fines_counted_twice_with_the_pan_are_named_bench_fault_83() -> None:
    """Bench fault 83: the pan holds what was washed away, so that the stack seems to have gained it."""
    assert found(replace(WASHED_SAND, pan_g=41.0)) == [("washing_in_pan", "stop")]
    assert found(replace(WASHED_SAND, pan_g=20.0)) == [("sieve_gain", "stop")], "no such coincidence"


def test_a_sheet_that_names_no_washing_is_asked_for_it() -> None:
    lost = finding_of(replace(WASHED_SAND, washed_dry_mass_g=None), "sieve_loss")
    assert "40.00 g (40.0 %)" in lost.sentence
    assert lost.next_step.startswith("If the portion was washed first, enter the dry mass after washing")


def test_more_found_than_put_on_the_stack_stops_bench_fault_79() -> None:
    """Bench fault 79: above 0.1 g or 0.2 %, whichever is more."""
    heavier = replace(WASHED_SAND, pan_g=1.11)
    assert found(heavier) == []
    assert found(replace(WASHED_SAND, pan_g=1.13)) == [("sieve_gain", "stop")]


def test_a_loss_above_2_percent_stops_and_is_not_shared_out_bench_fault_80() -> None:
    """Bench fault 80."""
    lossy = replace(WASHED_SAND, sieves=(SieveMass(250.0, 28.7), SieveMass(75.0, 29.0)))
    assert found(lossy) == [("sieve_loss", "stop")]
    assert sieve_test(lossy).curve[0].percent_finer == pytest.approx(71.3), "of the mass it started with"


def test_a_small_loss_is_shown_and_percent_stay_of_the_start_bench_fault_81() -> None:
    """Bench fault 81."""
    small = replace(WASHED_SAND, sieves=(SieveMass(250.0, 29.9), SieveMass(75.0, 29.0)))
    assert found(small) == [("sieve_loss_small", "note")]
    assert sieve_test(small).curve[0].percent_finer == pytest.approx(70.1)


def test_passing_below_nothing_is_shown_and_stops_bench_fault_82() -> None:
    """Bench fault 82: 70 g on the sieves of a test that started with 60; nothing is clipped."""
    impossible = replace(WASHED_SAND, started_with_g=60.0, washed_dry_mass_g=None, pan_g=12.0)
    assert found(impossible) == [("sieve_gain", "stop")]
    below = replace(impossible, sieves=(SieveMass(250.0, 41.0), SieveMass(75.0, 29.0)))
    assert sieve_test(below).curve[-1].percent_finer == pytest.approx(-100.0 / 6.0)


def test_percents_that_rise_to_a_finer_sieve_stop_bench_fault_82() -> None:
    """Bench fault 82: 71 % cannot pass 500 µm when 70 % passed 1000."""
    assert found(passing(90.0, 70.0, 70.0, 30.0)) == []
    assert found(passing(90.0, 70.0, 71.0, 30.0)) == [("percent_rises", "stop")]
    assert [p.percent_finer for p in sieve_test(passing(90.0, 70.0, 71.0)).curve] == [90.0, 70.0, 71.0]


def test_without_the_mass_at_the_start_a_loss_cannot_be_seen() -> None:
    unknown = replace(WASHED_SAND, started_with_g=None, washed_dry_mass_g=None)
    assert found(unknown) == [("sieve_start_missing", "warn")]
    assert sieve_test(unknown).basis_g == pytest.approx(60.0)


def test_a_washed_mass_above_the_start_stops() -> None:
    assert ("washed_above_portion", "stop") in found(replace(WASHED_SAND, washed_dry_mass_g=100.2))


@pytest.mark.parametrize(
    ("um70", "severity"), [(99.0, "note"), (89.0, "warn"), (85.0, "stop"), (2.0, "stop")]
)
def test_a_step_between_sieves_and_ready_percents_is_judged_as_in_a_run(um70: float, severity: str) -> None:
    """3 and 5 points of the whole at the split, of which 41 % passed."""
    stepped = hydrometer(WITH_HYDROMETER, um70=um70)
    (judged,) = [each for each in found(stepped) if each[0].startswith("join")]
    assert judged == ("join_accepted" if severity == "note" else "join_apart", severity)


def test_a_hydrometer_far_below_the_split_is_not_compared() -> None:
    far = replace(WITH_HYDROMETER, hydrometer=WITH_HYDROMETER.hydrometer[2:])
    assert ("join_not_compared", "note") in found(far)


@pytest.mark.parametrize(("um5", "severity"), [(61.0, "warn"), (63.0, "stop")])
def test_ready_percents_that_rise_are_named(um5: float, severity: str) -> None:
    """By a point of the whole at most it is a warning, as with smoothing in a run."""
    assert ("percent_rises", severity) in found(hydrometer(WITH_HYDROMETER, um5=um5))


@pytest.mark.parametrize(
    ("fine_um", "fall_pct", "named"),
    [(16.0, 24.9, False), (16.0, 25.1, True), (10.0, 49.9, False), (10.0, 50.1, True)],
)
def test_a_fall_that_no_dispersed_soil_shows_is_named(fine_um: float, fall_pct: float, named: bool) -> None:
    """50 points while the diameter halves, and half of it over any shorter step, as in a run."""
    points = ((70.0, 99.0), (20.0, 90.0), (fine_um, 90.0 - fall_pct), (2.0, 30.0))
    fine = SieveTest(
        started_with_g=100.0,
        washed_dry_mass_g=1.0,
        sieves=(SieveMass(75.0, 0.0),),
        pan_g=1.0,
        fines_split_um=75.0,
        hydrometer=tuple(CurvePoint(um, percent, "hydrometer") for um, percent in points),
    )
    assert ("fell_too_fast" in [code for code, _ in found(fine)]) is named


@pytest.mark.parametrize("opening_um", [0.075, 19.9, 130_000.0])
def test_a_run_too_refuses_an_opening_that_no_test_sieve_has_bench_fault_84(opening_um: float) -> None:
    """Bench fault 84: 0.075 typed for 75 µm."""
    stack = replace(sieved(), sieves=(SieveMass(opening_um, 5.7),))
    with pytest.raises(DistributionError, match="opening lies outside 20 to 125000 µm"):
        compute_distribution(good_run(sieving=stack), NINE, draws=0)
