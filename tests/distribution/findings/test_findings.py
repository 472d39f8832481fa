"""One run per finding: its code, its severity, its number."""

from __future__ import annotations

import re
from dataclasses import replace
from math import log

import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    BlankReading,
    Correction,
    Finding,
    MethodEdition,
    Pycnometer,
    ReadingState,
    RunRecord,
    Seen,
    Severity,
    SieveMass,
    Sieving,
    Sight,
    TemperatureLine,
)
from particles.distribution.findings.needed import with_left_out
from tests.support.runs import (
    NINE,
    READINGS,
    TWO,
    at_times,
    figures,
    good_run,
    only,
    sieved,
    with_reading,
    with_readings,
    with_values,
)

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP
GOOD = good_run()
STEADY_TAIL = READINGS[:5] + (16.5, 16.5, 16.5, 16.5)


def warming(by_c: float, share: float) -> RunRecord:
    """The room warms evenly from 19 C; the blank moves by a share of what it should, stepped as in reading."""
    readings = []
    for k, point in enumerate(GOOD.readings):
        warm_c = 19.0 + by_c * k / 8.0
        blank = round(2.0 * (5.0 - 0.3 * share * (warm_c - 19.0))) / 2.0
        readings.append(replace(point, temperature_c=warm_c, blank_temperature_c=warm_c, blank_reading=blank))
    return replace(GOOD, readings=tuple(readings))


def early_blanks(*values: float) -> tuple[BlankReading, ...]:
    """Readings of the blank at the first eight times of the schedule, in turn from these values."""
    times_s = NINE.schedule_s[:8]
    return tuple(BlankReading(t, 21.0, values[k % len(values)], t) for k, t in enumerate(times_s))


BY_MINUTES = METHOD_EDITIONS["hydrometer-nine-2026-3"]
"""The last edition whose blank went by minutes, each slot judged alone."""
OF_EARLIER_EDITIONS = frozenset(
    ("blank_far_in_time", "blank_drift", "blank_trend", "blank_against_temperature")
)
TEN = replace(GOOD, readings=(*GOOD.readings, replace(GOOD.readings[8], elapsed_s=90_000.0, reading=11.5)))
LATE_BLANKS = replace(
    GOOD,
    readings=tuple(replace(p, blank_reading=5.5 if k > 3 else 4.5) for k, p in enumerate(GOOD.readings)),
)
HEAVY = replace(with_values(40, 36, 31, 26, 21, 3.06, 3.06, 3.06, 3.06), oven_dry_mass_g=80.0)
"""On a heavy portion reading noise is a small percentage."""


def gravelly(gravel_g: float) -> Sieving:
    """The sand of the good run under a 2 mm sieve that kept some."""
    rest = sieved()
    stack = (SieveMass(2000.0, gravel_g), *rest.sieves)
    return replace(rest, sieves=stack, washed_dry_mass_g=rest.washed_dry_mass_g + gravel_g)


def _last(count: int, record: RunRecord = GOOD) -> RunRecord:
    return replace(record, readings=record.readings[-count:])


WEIGHED = Pycnometer(25.0, 150.0, 165.6, 20.0)
"""Invented: 25 g of soil take the place of 9.4 g of water at 20 C."""
EMPTY = replace(
    with_values(*(0.0,) * 9),
    dispersant_g_l=0.0,
    readings=tuple(replace(p, reading=0.0, blank_reading=0.0) for p in GOOD.readings),
)


def seven_missed() -> RunRecord:
    """Seven of the nine slots said to be missed."""
    readings = tuple(
        point if k in (0, 8) else replace(point, reading=None, state=ReadingState.MISSED)
        for k, point in enumerate(GOOD.readings)
    )
    return replace(GOOD, readings=readings)


CASES: list[tuple[str, Severity, float | None, RunRecord]] = [
    ("run_void", STOP, None, replace(GOOD, void="its blank is void, the cylinder broke")),
    ("seen", WARN, 60.0, replace(GOOD, seen=(Seen(Sight.DOUBTFUL, 60.0),))),
    ("time_doubtful", WARN, 3600.0, with_reading(1, time_doubt="it slept", time_doubt_s=3600.0)),
    ("no_oven_dry_mass", STOP, None, replace(GOOD, oven_dry_mass_g=None)),
    ("no_oven_dry_mass", STOP, 41.0, replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=41.0)),
    ("mass_unusual", WARN, 121.0, replace(GOOD, oven_dry_mass_g=121.0)),
    (
        "moisture_unusual",
        WARN,
        0.0,
        replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=41.0, moisture_pct=0.0),
    ),
    (
        "moisture_unusual",
        WARN,
        16.0,
        replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=41.0, moisture_pct=16.0),
    ),
    ("volume_unusual", WARN, 500.0, replace(GOOD, volume_ml=500.0)),
    (
        "moisture_unusual",
        STOP,
        50.0,
        replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=60.0, moisture_pct=50.0),
    ),
    ("oven_dry_above_air_dry", WARN, 0.2, replace(GOOD, air_dry_mass_g=39.8)),
    ("oven_dry_above_air_dry", STOP, 2.0, replace(GOOD, air_dry_mass_g=38.0)),
    ("masses_disagree", STOP, -9.02, replace(GOOD, air_dry_mass_g=50.0, moisture_pct=2.0)),
    ("density_without_record", STOP, 2.1, replace(GOOD, particle_density_g_cm3=2.1)),
    (
        "density_without_record",
        STOP,
        3.3,
        replace(GOOD, particle_density_g_cm3=3.3, particle_density_measured=False),
    ),
    (
        "density_apart",
        STOP,
        -0.355,
        replace(GOOD, particle_density_g_cm3=2.3, particle_density_weighings=WEIGHED),
    ),
    ("slots_absent", WARN, 7.0, only(GOOD, 0, 8)),
    ("too_few_points", STOP, 2.0, only(GOOD, 0, 8)),
    ("too_few_points", STOP, 2.0, seven_missed()),
    ("limit_far_from_points", STOP, None, only(GOOD, 0, 8)),
    ("limit_far_from_points", STOP, None, only(GOOD, 0, 1, 2, 3, 4, 8)),
    ("outer_slot_missing", STOP, 30.0, only(GOOD, 1, 2, 3, 4, 5, 6, 7, 8)),
    ("outer_slot_missing", STOP, 86_400.0, at_times(only(GOOD, 0, 1, 2, 3, 4, 5, 6, 8), {7: 36_000.0})),
    ("nothing_in_suspension", STOP, 0.0, with_values(*(4.5,) * 9)),
    ("nothing_in_suspension", STOP, 0.05, with_values(*(4.55,) * 9)),
    ("nothing_in_suspension", STOP, 0.0, EMPTY),
    (
        "meniscus_twice",
        WARN,
        0.5,
        replace(GOOD, correction=Correction.SEPARATE, zero_correction_graduations=-0.5),
    ),
    ("curve_held", NOTE, 1.25, replace(GOOD, sieving=sieved(9.0, 9.3))),
    (
        "sample_small_for_grain",
        WARN,
        60.0,
        replace(
            GOOD,
            gravel_sieves=(SieveMass(12_500.0, 0.0), SieveMass(6300.0, 8.0), SieveMass(2000.0, 4.0)),
            whole_sample_dry_mass_g=60.0,
        ),
    ),
    ("density_unusual", WARN, 2.35, replace(GOOD, particle_density_g_cm3=2.35)),
    ("density_unusual", WARN, 3.05, replace(GOOD, particle_density_g_cm3=3.05)),
    ("density_assumed", NOTE, 2.65, replace(GOOD, particle_density_measured=False)),
    ("dispersant_high", WARN, 11.0, replace(GOOD, dispersant_g_l=11.0)),
    ("reading_missed", WARN, 30.0, with_reading(0, reading=None, state=ReadingState.MISSED)),
    ("reading_missed", NOTE, 600.0, with_reading(3, reading=None, state=ReadingState.MISSED)),
    ("above_scale", STOP, 60.0, with_reading(0, reading=None, state=ReadingState.ABOVE_SCALE)),
    ("above_scale", STOP, 60.0, with_reading(0, reading=60.5)),
    ("above_scale", STOP, 60.0, with_reading(8, reading=None, state=ReadingState.ABOVE_SCALE)),
    ("above_scale", STOP, 60.0, with_reading(8, reading=62.0)),
    ("below_scale", STOP, -5.5, with_reading(8, reading=-5.5)),
    ("more_than_portion", STOP, 35.5, replace(GOOD, oven_dry_mass_g=34.0)),
    ("negative_reading", NOTE, -0.7, with_reading(8, reading=3.8)),
    ("negative_reading", WARN, -1.2, with_reading(8, reading=3.3)),
    ("negative_reading", STOP, -2.0, with_reading(8, reading=2.5)),
    ("negative_reading", STOP, -1.6, with_values(40, 36, 31, 26, 21, 2.9, 2.9, 2.9, 2.9)),
    ("rising_reading", NOTE, 0.8, with_reading(7, reading=18.3)),
    ("rising_reading", WARN, 1.1, with_reading(7, reading=18.6)),
    ("rising_reading", STOP, 1.5, with_reading(7, reading=19.0)),
    ("typo_suspected", WARN, 6.0, with_reading(5, reading=27.0)),
    ("typo_suspected", WARN, 120.0, with_reading(8, reading=120.0)),
    ("gel_suspected", WARN, 3.0, with_values(40, 36, 31, 26, 21, 18.5, 21.5, 21.5, 21.5)),
    ("clear_late", NOTE, 0.0, with_values(40, 36, 31, 26, 15, 8, 6, 5, 4.5)),
    (
        "flocculation_suspected",
        WARN,
        0.0,
        replace(with_values(40, 36, 31, 26, 15, 8, 6, 5, 4.5), field_clayey=True),
    ),
    ("off_schedule", NOTE, 4.0, with_reading(0, elapsed_s=34.0)),
    ("temperature_copied", WARN, 9.0, with_reading(8, blank_temperature_c=21.6)),
    ("temperature_copied", WARN, 9.0, with_reading(8, blank_reading=7.0)),
    ("temperature_unchanged", NOTE, 10.0, TEN),
    ("timer_suspected", NOTE, None, replace(GOOD, sieving=sieved(4.1, 4.4, 0.3))),
    ("fell_too_fast", WARN, 50.0, with_values(40, 39, 38, 18, 17.5, 17, 16.5, 16, 12)),
    ("beyond_stokes", WARN, None, replace(with_reading(0, elapsed_s=8.0))),
    ("curve_adjusted", NOTE, 1.25, with_reading(7, reading=18.5)),
    ("curve_adjusted", WARN, 3.33, with_reading(7, reading=20.0)),
    ("curve_adjusted", STOP, 5.0, with_reading(7, reading=21.0)),
    ("temperature_jump", WARN, 2.5, with_reading(8, temperature_c=23.5, blank_temperature_c=23.5)),
    ("stuck_reading", WARN, 4.0, with_values(*STEADY_TAIL)),
    ("stuck_reading", WARN, 9.0, with_values(*[20.0] * 9)),
    ("no_blank", STOP, None, replace(GOOD, correction=Correction.NONE)),
    (
        "blank_not_measured",
        STOP,
        None,
        replace(GOOD, correction=Correction.SEPARATE, zero_correction_graduations=4.5),
    ),
    (
        "correction_missing",
        STOP,
        86400.0,
        with_reading(
            8,
            replace(with_readings(composite_correction_graduations=4.5), correction=Correction.COMPOSITE),
            composite_correction_graduations=None,
        ),
    ),
    ("blank_missing", STOP, 600.0, with_reading(3, blank_reading=None)),
    ("blank_unusual", WARN, 9.5, with_readings(blank_reading=9.5)),
    ("blank_unusual", WARN, -0.5, with_readings(blank_reading=-0.5)),
    ("blank_impossible", STOP, 12.5, with_readings(blank_reading=12.5)),
    ("blank_impossible", STOP, -3.5, with_readings(blank_reading=-3.5)),
    ("blank_temperature_missing", WARN, 600.0, with_reading(3, blank_temperature_c=None)),
    ("blank_temperature_apart", WARN, 1.5, with_readings(blank_temperature_c=19.5)),
    ("blank_temperature_far_apart", WARN, -2.5, with_readings(blank_temperature_c=23.5)),
    ("blank_far_in_time", WARN, 1801.0, with_reading(3, blank_gap_s=1801.0)),
    ("blank_drift", NOTE, 0.6, with_reading(8, blank_reading=5.1)),
    ("blank_drift", WARN, 1.5, with_reading(8, blank_reading=6.0)),
    ("blank_trend", WARN, 1.0, LATE_BLANKS),
    ("blank_against_temperature", WARN, None, warming(4.0, -1.0)),
    ("blank_copied", WARN, None, warming(3.9, 0.0)),
    ("blank_temperature_moved", WARN, 0.6, with_readings(blank_gap_s=3600.0, blank_temperature_c=20.4)),
    ("blank_not_read", WARN, 22.0, replace(GOOD, blanks=early_blanks(4.5))),
    ("blank_moved", WARN, 1.5, with_reading(8, blank_reading=6.0)),
    ("blank_moved", WARN, 1.0, LATE_BLANKS),
    ("blank_moved", WARN, 1.5, with_reading(3, blank_reading=6.0)),
    ("blank_moved", WARN, None, warming(4.0, -1.0)),
    ("blank_without_dispersant", STOP, -0.20, with_readings(blank_reading=-0.5)),
    ("blank_level", WARN, 3.05, with_readings(blank_reading=7.3)),
    ("clay_limit_not_reached", STOP, None, replace(GOOD, readings=GOOD.readings[:8])),
    ("clay_limit_extrapolated", WARN, 1.11, with_reading(8, elapsed_s=32000.0)),
    ("sand_limit_not_reached", STOP, None, _last(7)),
    ("sand_limit_extrapolated", WARN, 1.14, _last(8)),
    ("clay_negative", NOTE, None, with_values(40, 36, 31, 26, 21, 4.4, 4.4, 4.4, 4.4)),
    ("clay_negative", WARN, -1.8, HEAVY),
    ("clay_negative", STOP, None, with_values(40, 36, 31, 26, 21, 3.5, 3.5, 3.5, 3.5)),
    ("sand_negative", NOTE, None, replace(GOOD, oven_dry_mass_g=33.0)),
    ("sand_negative", STOP, None, replace(GOOD, oven_dry_mass_g=30.0)),
    ("silt_negative", NOTE, None, replace(GOOD, sieving=sieved(30.6, 30.7, 0.1))),
    ("silt_negative", STOP, None, replace(GOOD, sieving=sieved(34.0, 34.1, 0.1))),
    ("no_sand_sieve", STOP, 63.0, replace(GOOD, sieving=sieved(opening_um=63.0))),
    ("join_not_compared", NOTE, 53.0, replace(_last(7), sieving=sieved())),
    ("join_accepted", NOTE, None, replace(GOOD, sieving=sieved())),
    ("gravel_basis_missing", WARN, None, replace(GOOD, gravel_sieves=(SieveMass(2000.0, 20.0),))),
    (
        "gravel_apart",
        WARN,
        5.0,
        replace(
            GOOD,
            gravel_pct=25.0,
            gravel_sieves=(SieveMass(2000.0, 20.0),),
            whole_sample_dry_mass_g=100.0,
        ),
    ),
    ("join_apart", WARN, None, replace(GOOD, sieving=sieved(4.1, 4.4, 0.3))),
    ("join_apart", STOP, None, replace(GOOD, sieving=sieved(3.0, 3.3, 0.3))),
    ("washed_above_portion", STOP, 2.0, replace(GOOD, sieving=sieved(41.0, 42.0, 1.0))),
    ("gravel_on_sand_sieves", WARN, 0.75, replace(GOOD, sieving=gravelly(0.3))),
    ("gravel_on_sand_sieves", STOP, 1.25, replace(GOOD, sieving=gravelly(0.5))),
    ("sieve_gain", STOP, 0.2, replace(GOOD, sieving=sieved(5.7, 5.8, 0.3))),
    ("sieve_loss", STOP, 2.5, replace(GOOD, sieving=Sieving(6.0, (SieveMass(53.0, 5.55),), 0.3))),
    ("sieve_loss_small", NOTE, 1.0, replace(GOOD, sieving=Sieving(6.0, (SieveMass(53.0, 5.64),), 0.3))),
]


def _named(record: RunRecord, code: str, method: MethodEdition = NINE) -> list[Finding]:
    return [finding for finding in figures(record, method=method).findings if finding.code == code]


@pytest.mark.parametrize(
    ("code", "severity", "number", "record"),
    CASES,
    ids=[f"{c}-{s}-{k}" for k, (c, s, *_) in enumerate(CASES)],
)
def test_finding(code: str, severity: Severity, number: float | None, record: RunRecord) -> None:
    found = _named(record, code, BY_MINUTES if code in OF_EARLIER_EDITIONS else NINE)
    assert found, f"{code} was not found"
    assert found[0].severity is severity
    assert found[0].next_step
    assert re.search(r"\d|mass|blank", found[0].sentence)
    if number is not None:
        assert found[0].number == pytest.approx(number, abs=0.01)
    if severity is STOP:
        assert not figures(record).certifiable


def test_a_good_run_has_no_finding_at_all() -> None:
    answer = figures(GOOD)
    assert answer.findings == ()
    assert answer.certifiable


def test_a_good_sieved_run_adds_nothing_but_its_accepted_join() -> None:
    answer = figures(replace(GOOD, sieving=sieved()))
    assert {f.code for f in answer.findings} - {f.code for f in figures(GOOD).findings} == {"join_accepted"}
    assert answer.fractions is not None
    assert answer.fractions.sand_by == "sieve"
    # Half a minute and a minute lie on both sides of 50 and 53 µm: 10 % of the soil over a factor of their sizes.
    coarse, fine = answer.points[:2]
    between = 10.0 * log(53.0 / 50.0) / log(coarse.diameter_um / fine.diameter_um)
    assert answer.fractions.sand.value_pct == pytest.approx(100 * 5.7 / 40.0 + between)


def test_by_time_only() -> None:
    found = _named(GOOD, "by_time_only", TWO)
    assert found[0].severity is STOP
    answer = figures(GOOD, method=TWO)
    assert answer.fractions is None
    assert answer.texture is None
    assert answer.named_readings[0].name == "silt and clay at 30 s"
    late = next(named for named in answer.named_readings if named.name == "clay at 24 h")
    assert late.diameter_um == pytest.approx(answer.points[-1].diameter_um)


def test_a_clean_figure_just_inside_each_limit() -> None:
    for code, record in (
        ("rising_reading", with_reading(7, reading=18.0)),
        ("blank_temperature_apart", with_readings(blank_temperature_c=20.0)),
        ("blank_unusual", with_readings(blank_reading=9.0)),
        ("sieve_gain", replace(GOOD, sieving=sieved(5.79, 6.0, 0.3))),
    ):
        assert not _named(record, code), code


def test_a_wrong_reading_is_left_out_and_never_filled_in() -> None:
    for index, record in (
        (3, with_reading(3, blank_reading=None)),
        (3, with_reading(3, reading=None, state=ReadingState.MISSED)),
        (0, with_reading(0, reading=61.0)),
    ):
        used = [point.reading_index for point in figures(record).points]
        assert used == [k for k in range(9) if k != index]


def test_without_any_mass_there_are_no_percentages() -> None:
    answer = figures(replace(GOOD, oven_dry_mass_g=None))
    assert (answer.points, answer.curve, answer.fractions, answer.oven_dry_mass_g) == ((), (), None, None)


def test_four_equal_readings_from_half_a_minute_to_a_day_are_odd_unless_the_water_is_clear() -> None:
    four = METHOD_EDITIONS["hydrometer-four-2026-4"]
    taken = [GOOD.readings[k] for k in (0, 1, 6, 8)]
    for reading, said in ((20.0, True), (5.0, False)):
        same = tuple(replace(point, reading=reading) for point in taken)
        found = _named(replace(GOOD, readings=same), "stuck_reading", four)
        assert bool(found) is said, reading


def test_times_left_out_on_purpose_are_not_said_to_be_unknown() -> None:
    fewer = only(GOOD, 0, 1, 2, 3, 4, 8)
    found = figures(fewer).findings
    said = {
        times: [f for f in with_left_out(found, fewer, NINE, times) if f.code == "slots_absent"]
        for times in ((), NINE.schedule_s[5:7], NINE.schedule_s[5:8])
    }
    sentences = [each.sentence for [each] in said.values()]
    assert sentences[0].startswith("The record says nothing of 3 of the 9 times of its schedule: ")
    assert sentences[1].startswith("Of the 9 times of the schedule 3 do not count: the QA officer left out ")
    assert "the record says nothing of " in sentences[1]
    assert sentences[2].startswith("The QA officer left out 3 of the 9 times of the schedule: ")
    assert {each.severity for [each] in said.values()} == {Severity.WARN}
    others = [each for each in found if each.code != "slots_absent"]
    assert [e for e in with_left_out(found, fewer, NINE, ()) if e.code != "slots_absent"] == others


def test_figures_on_air_dry_mass_say_so() -> None:
    answer = figures(replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=40.0))
    assert answer.fractions is not None
    assert not answer.certifiable
    assert any("air-dry, moisture unknown" in note for note in answer.notes)


def test_old_corrections_give_figures_but_no_certified_result() -> None:
    answer = figures(
        replace(
            GOOD,
            correction=Correction.SEPARATE,
            zero_correction_graduations=4.5,
            temperature_correction=TemperatureLine(-4.2, 0.2),
        )
    )
    assert [p.percent_finer for p in answer.points] == pytest.approx(
        [p.percent_finer for p in figures(GOOD).points]
    )
    assert not answer.certifiable


def test_a_negative_figure_is_shown_as_it_is() -> None:
    answer = figures(with_reading(8, reading=3.8))
    assert answer.points[-1].concentration_g_l == pytest.approx(-0.7)
    assert answer.points[-1].percent_finer == pytest.approx(-1.75)
