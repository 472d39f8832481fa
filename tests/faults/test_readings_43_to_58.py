"""
Faults of the readings that the arithmetic must catch, each under its number of the bench's list.

Records are invented (`tests/support/runs.py`); what must happen is *common practice* unless a test names a source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    BatchRun,
    Correction,
    DepthLine,
    DistributionError,
    Finding,
    Hydrometer,
    HydrometerScale,
    MethodEdition,
    ReadingState,
    RunRecord,
    Severity,
    batch_findings,
    compute_distribution,
)
from tests.support.runs import (
    NINE,
    at_times,
    figures,
    good_run,
    only,
    severities,
    sieved,
    with_reading,
    with_readings,
    with_values,
)

FOUR = METHOD_EDITIONS["hydrometer-four-2026-4"]
EIGHT = METHOD_EDITIONS["hydrometer-standard-eight-2026-4"]
GOOD = good_run()
LATE_RISE = (40.0, 36.0, 31.0, 26.0, 21.0, 18.0, 30.0, 48.0)
"""Falls for an hour, then rises towards the end of the stem."""


def _found(record: RunRecord, code: str, method: MethodEdition = NINE) -> list[Finding]:
    return [each for each in figures(record, method=method).findings if each.code == code]


def _missed(*slots: int, record: RunRecord = GOOD) -> RunRecord:
    for slot in slots:
        record = with_reading(slot, record, reading=None, state=ReadingState.MISSED)
    return record


def _four(*values: float) -> RunRecord:
    record = only(GOOD, 0, 1, 6, 8)
    paired = zip(record.readings, values, strict=True)
    return replace(record, readings=tuple(replace(point, reading=value) for point, value in paired))


def test_bench_fault_43_a_rise_beyond_1_g_l_stops_and_a_late_one_is_told_as_what_it_is() -> None:
    """Bench fault 43."""
    early, late = with_reading(2, reading=42.0), with_reading(7, reading=22.0)
    assert severities(early, "rising_reading") == severities(late, "rising_reading") == ["stop"]
    assert not figures(early).certifiable
    assert not figures(late).certifiable
    (at_3_min,), (at_2_h,) = _found(early, "rising_reading"), _found(late, "rising_reading")
    assert "typing slip" in at_3_min.next_step
    for word in ("salts", "gel", "crystals", "instrument", "wash", "smaller portion"):
        assert word in at_2_h.next_step, word


def test_bench_fault_43_a_rise_off_the_stem_is_not_called_too_much_soil() -> None:
    """Bench fault 43."""
    record = with_values(*LATE_RISE, 62.0)
    (above,) = _found(record, "above_scale")
    assert "not too much soil" in above.sentence
    assert "less soil" not in above.next_step
    assert _found(record, "typo_suspected") == [], "no decimal point is missing from it"
    unread = with_reading(8, with_values(*LATE_RISE, 62.0), reading=None, state=ReadingState.ABOVE_SCALE)
    assert "not too much soil" in _found(unread, "above_scale")[0].sentence


def test_bench_fault_43_the_neighbours_tell_that_it_is_this_sample() -> None:
    """Bench fault 43."""
    records = [replace(good_run(), label=f"cylinder {k}") for k in range(1, 4)]
    records.append(replace(with_values(*LATE_RISE, 55.0), label="cylinder 4"))

    def alone(taken: list[RunRecord]) -> list[tuple[str, ...]]:
        runs = [BatchRun(record, figures(record)) for record in taken]
        return [each.labels for each in batch_findings(runs, NINE) if each.finding.code == "late_rise_alone"]

    assert alone(records) == [("cylinder 4",)]
    assert alone(records[1:]) == [], "two neighbours are too few to say so"


def test_bench_fault_44_a_stuck_hydrometer_shows_in_a_schedule_of_four() -> None:
    """Bench fault 44: 30, 28, 28, 28 leaves no silt at all."""
    stuck = _four(30.0, 28.0, 28.0, 28.0)
    assert severities(stuck, "stuck_reading", FOUR) == ["warn"]
    before = METHOD_EDITIONS["hydrometer-four-2026-3"]
    assert severities(stuck, "stuck_reading", before) == [], "earlier editions asked for four"
    assert severities(_four(30.0, 28.0, 20.0, 15.0), "stuck_reading", FOUR) == []


def test_bench_fault_45_what_fell_too_fast_is_told_and_the_run_is_to_be_void() -> None:
    """Bench fault 45."""
    record = replace(with_values(40, 38, 36, 14, 6, 5, 5, 4.8, 4.6), field_clayey=True)
    codes = {each.code for each in figures(record).findings}
    assert {"fell_too_fast", "flocculation_suspected"} <= codes


def test_bench_fault_46_a_negative_reading_is_shown_and_beyond_noise_it_stops() -> None:
    """Bench fault 46."""
    slight, far = with_reading(8, reading=4.2), with_reading(8, reading=2.0)
    assert figures(slight).points[-1].concentration_g_l == pytest.approx(-0.3)
    assert severities(slight, "negative_reading") == ["note"]
    assert severities(far, "negative_reading") == ["stop"]


def test_bench_fault_47_more_than_the_portion_can_give_stops() -> None:
    """Bench fault 47."""
    assert severities(replace(GOOD, oven_dry_mass_g=32.0), "more_than_portion")[0] == "stop"


def test_bench_fault_48_a_value_of_the_other_scale_is_refused() -> None:
    """Bench fault 48."""
    with pytest.raises(DistributionError, match="relative density"):
        figures(with_reading(0, reading=1.0215))
    stem = Hydrometer(
        "x", HydrometerScale.RELATIVE_DENSITY, DepthLine(16.3, 264.5), 0.0003, 1.2, 0.995, 1.038
    )
    with pytest.raises(DistributionError, match="thousandths"):
        figures(replace(GOOD, hydrometer=stem))


def test_bench_fault_49_off_the_end_of_the_stem_is_no_data() -> None:
    """Bench fault 49."""
    record = with_reading(0, reading=None, state=ReadingState.ABOVE_SCALE)
    assert severities(record, "above_scale") == ["stop"]
    assert [point.reading_index for point in figures(record).points] == list(range(1, 9))
    assert "less soil" in _found(record, "above_scale")[0].next_step


def test_bench_fault_50_the_meniscus_is_corrected_once_and_its_double_use_is_seen() -> None:
    """Bench fault 50: it cancels against the blank, and enters the depth alone."""
    moved = figures(replace(GOOD, hydrometer=replace(GOOD.hydrometer, meniscus_correction=1.0)))
    assert [p.percent_finer for p in moved.points] == [p.percent_finer for p in figures(GOOD).points]
    old = with_readings(
        blank_reading=None, blank_temperature_c=None, blank_gap_s=None, composite_correction_graduations=-0.5
    )
    old = replace(old, correction=Correction.COMPOSITE)
    assert severities(old, "meniscus_twice") == ["warn"]
    honest = replace(
        old, readings=tuple(replace(p, composite_correction_graduations=4.5) for p in old.readings)
    )
    assert severities(honest, "meniscus_twice") == []


def test_bench_fault_51_without_the_30_s_reading_sand_comes_from_a_sieve_or_not_at_all() -> None:
    """Bench fault 51: nothing stands in for it, and the reading at 60 s does not reach 50 µm."""
    record = _missed(0)
    assert severities(record, "reading_missed") == ["warn"]
    assert severities(record, "outer_slot_missing") == ["stop"]
    assert not figures(record).certifiable
    assert severities(only(GOOD, *range(1, 9)), "outer_slot_missing") == ["stop"], "absent is missed"
    assert figures(replace(record, sieving=sieved())).certifiable


def test_bench_fault_52_without_the_60_s_reading_sand_is_computed_by_nine_and_not_by_four() -> None:
    """Bench fault 52: the next point lies at 27 µm after 3 min, at 6 µm after 1.5 h, and 70 is far from 50."""
    assert figures(_missed(1)).certifiable
    assert figures(_missed(1, record=_four(40.0, 36.0, 17.5, 12.0)), method=FOUR).certifiable, "60 µm is near"
    short = _missed(1, record=_four(20.0, 18.0, 10.0, 8.0))
    assert severities(short, "limit_far_from_points", FOUR) == ["stop"]
    found = figures(short, method=FOUR)
    assert found.fractions is not None, "the figure is shown, and not certified"
    assert not found.certifiable


@pytest.mark.parametrize("elapsed_s", [34.0, 45.0])
def test_bench_fault_53_a_late_reading_gets_the_size_of_its_true_time(elapsed_s: float) -> None:
    """Bench fault 53: the size goes with one over the root of time (Stokes)."""
    late, on_time = figures(with_reading(0, elapsed_s=elapsed_s)), figures(GOOD)
    ratio = late.points[0].diameter_um / on_time.points[0].diameter_um
    assert ratio == pytest.approx((30.0 / elapsed_s) ** 0.5, rel=1e-6)


def test_bench_fault_54_a_last_reading_at_27_h_moves_its_size_by_6_percent_and_brackets_still() -> None:
    """Bench fault 54."""
    late = at_times(GOOD, {8: 27 * 3600.0})
    moved = figures(late).points[-1].diameter_um / figures(GOOD).points[-1].diameter_um
    assert 1.0 - moved == pytest.approx(0.057, abs=0.002)
    assert figures(late).certifiable
    assert severities(at_times(GOOD, {8: 8 * 3600.0}), "clay_limit_not_reached") == []


def test_bench_fault_55_a_wrong_start_beside_a_sieve_opens_a_step_and_is_named() -> None:
    """Bench fault 55: seen where sieve and hydrometer meet, else not; the start is corrected at the bench."""
    record = replace(GOOD, sieving=sieved(4.1, 4.4, 0.3))
    assert severities(record, "timer_suspected") == ["note"]
    assert severities(record, "join_apart") == ["warn"]


def test_bench_fault_56_times_of_two_starts_in_one_record_are_refused() -> None:
    """Bench fault 56."""
    with pytest.raises(DistributionError, match="rise from reading to reading"):
        figures(at_times(GOOD, {2: 30.0}))


def test_bench_fault_57_a_time_of_an_unproven_clock_stays_on_the_result_and_widens_it() -> None:
    """Bench fault 57."""
    doubtful = with_reading(0, time_doubt="the tablet slept", time_doubt_s=10.0)
    assert severities(doubtful, "time_doubtful") == ["warn"]
    widths = []
    for record in (GOOD, doubtful):
        fractions = compute_distribution(record, NINE, draws=2000).fractions
        assert fractions is not None
        widths.append(fractions.sand.standard_uncertainty_pct or 0.0)
    assert widths[1] > 1.2 * widths[0]


@pytest.mark.parametrize("elapsed_s", [-43_200.0, 0.0, 1e-300])
def test_bench_fault_58_a_duration_that_went_below_zero_is_refused(elapsed_s: float) -> None:
    """Bench fault 58."""
    with pytest.raises(DistributionError, match=r"above zero|at rest"):
        figures(with_reading(0, elapsed_s=elapsed_s))


@pytest.mark.parametrize("typed", [68.0, 72.5, 80.0])
def test_bench_fault_70_fahrenheit_is_refused_with_its_unit_named(typed: float) -> None:
    """Bench fault 70."""
    with pytest.raises(DistributionError, match="°F"):
        figures(with_reading(3, temperature_c=typed))


def test_bench_fault_71_a_temperature_out_of_the_room_is_refused_and_a_jump_is_told() -> None:
    """Bench fault 71."""
    for typed in (2.1, 9.9, 40.1, 210.0):
        with pytest.raises(DistributionError, match="Temperature outside"):
            figures(with_reading(3, temperature_c=typed))
    jump = with_reading(8, temperature_c=23.1, blank_temperature_c=23.1)
    assert severities(jump, "temperature_jump") == ["warn"]
    assert severities(with_reading(8, temperature_c=23.0, blank_temperature_c=23.0), "temperature_jump") == []


def test_a_record_of_two_slots_of_nine_is_never_certified() -> None:
    """Absent and missed alike: 30 s and 24 h make no curve, and say nothing of 50 and 2 µm."""
    for record in (only(GOOD, 0, 8), _missed(*range(1, 8))):
        found = {each.code for each in figures(record).findings if each.severity is Severity.STOP}
        assert found == {"too_few_points", "limit_far_from_points"}
    assert severities(only(GOOD, 0, 8), "slots_absent") == ["warn"]
    assert severities(_missed(*range(1, 8)), "slots_absent") == []


def test_six_of_nine_make_a_curve_and_five_do_not() -> None:
    assert severities(_missed(2, 4, 6), "too_few_points") == []
    assert severities(_missed(2, 4, 5, 6), "too_few_points") == ["stop"]
    assert figures(_missed(2, 4, 6)).certifiable


def test_a_schedule_that_starts_at_1_min_reaches_the_sand_limit_by_its_own_first_slot() -> None:
    record = replace(
        GOOD,
        readings=tuple(
            replace(GOOD.readings[0], elapsed_s=elapsed_s, reading=reading)
            for elapsed_s, reading in zip(
                EIGHT.schedule_s, (36.0, 33.0, 30.0, 24.0, 21.0, 18.5, 15.0, 12.0), strict=True
            )
        ),
    )
    assert severities(record, "sand_limit_extrapolated", EIGHT) == ["warn"]
    assert figures(record, method=EIGHT).certifiable
    later = replace(record, readings=record.readings[1:])
    assert not figures(later, method=EIGHT).certifiable
