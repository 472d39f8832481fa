"""
Where the findings on the fall of a run begin, from both sides; the numbers are written here and not read from the code.

One reading of a 152H has a standard deviation of 0.333 g/L, the difference of two 0.471 g/L; 1 g/L is 2.5 % of 40 g.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import METHOD_EDITIONS, MethodEdition, RunRecord
from tests.support.runs import (
    EXACT_BENCH,
    NINE,
    READINGS,
    at_times,
    figures,
    good_run,
    only,
    severities,
    with_reading,
    with_values,
)

SECOND = METHOD_EDITIONS["hydrometer-nine-2026-2"]


@pytest.mark.parametrize(
    ("rise_g_l", "said", "method"),
    [
        (0.5, [], NINE), (0.6, ["note"], NINE),
        (1.0, ["note"], NINE), (1.1, ["warn"], NINE),  # 2.2 × 0.471 = 1.04
        (1.2, ["stop"], NINE),  # 2.5 × 0.471 = 1.18
        (0.5, [], EXACT_BENCH), (0.6, ["warn"], EXACT_BENCH),
        (1.0, ["warn"], EXACT_BENCH), (1.1, ["stop"], EXACT_BENCH),
    ],
)  # fmt: skip
def test_a_rise(rise_g_l: float, said: list[str], method: MethodEdition) -> None:
    assert severities(with_reading(7, reading=17.5 + rise_g_l), "rising_reading", method) == said


@pytest.mark.parametrize(
    ("by_g_l", "said", "method"),
    [(1.85, [], NINE), (1.92, ["warn"], NINE), (0.9, [], EXACT_BENCH), (1.1, ["warn"], EXACT_BENCH)],
)
def test_readings_that_stay_above_an_earlier_one(
    by_g_l: float, said: list[str], method: MethodEdition
) -> None:
    """4 × 0.471 = 1.88 g/L, or 1 g/L where reading is better than that."""
    record = with_values(40, 36, 31, 26, 21, 18.5, *[18.5 + by_g_l] * 3)
    assert severities(record, "gel_suspected", method) == said


def test_gel_shows_from_half_an_hour_on() -> None:
    """The same rise at 1300 s is told of the reading after it, at 1800 s of itself."""
    for at_s, slot in ((1300.0, 4), (1800.0, 3)):
        risen = at_times(with_values(40, 36, 22, *[25.5] * 6), {3: at_s, 4: 2400.0})
        (found,) = [each for each in figures(risen).findings if each.code == "gel_suspected"]
        assert found.reading_index == slot


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ((20.6, 20.4, 20.2, *[20.0] * 6), []), ((20.4, 20.2, *[20.0] * 7), ["warn"]),
        ([7.5] * 9, []), ([7.6] * 9, ["warn"]),  # 3 g/L above the blank
        ((40, 36, 31, 26, 17.7, *[16.5] * 4), []), ((40, 36, 31, 26, 17.8, *[16.5] * 4), ["warn"]),
        ((40, 36, 31, 27, 26, 25, *[16.5] * 3), []), ((40, 36, 31, 27, 26, *[16.5] * 4), ["warn"]),
    ],
)  # fmt: skip
def test_equal_readings_in_a_row(readings: tuple[float, ...], said: list[str]) -> None:
    """
    Seven of them always, four where a fall of 3 × 0.471 = 1.41 g/L was due.

    From 17.7 at 1800 s to 16.5 at 3600 s, a quarter of that rate to 24 h is 0.25 × 1.2 / ln 2 × ln 24 = 1.38 g/L.
    """
    assert severities(with_values(*readings), "stuck_reading") == said


def test_equal_readings_count_over_an_hour() -> None:
    equal = with_values(40, 36, 31, 26, *[16.5] * 4, 12)
    for last_s, said in ((5390.0, []), (5400.0, ["warn"])):
        assert severities(at_times(equal, {5: 3600.0, 6: 4500.0, 7: last_s}), "stuck_reading") == said


def test_few_equal_readings_are_odd_over_twenty_hours() -> None:
    equal = only(with_values(*[20.0] * 9), 0, 1, 6, 8)
    for last_s, said in ((72_029.0, []), (72_030.0, ["warn"])):
        assert severities(at_times(equal, {3: last_s}), "stuck_reading") == said


@pytest.mark.parametrize(
    ("reading", "said", "method"),
    [(22.9, [], NINE), (22.8, ["warn"], NINE), (24.9, [], SECOND), (24.8, ["warn"], SECOND)],
)
def test_a_fall_faster_than_dispersed_soil(reading: float, said: list[str], method: MethodEdition) -> None:
    """From 24.8 to 15.2 µm a ratio of 1.63: 60 × 0.63 = 38 %; in earlier editions 50 × 0.66 = 33 %."""
    record = with_values(40, 39, 38, reading, 17.5, 17, 16.5, 16, 12)
    assert severities(record, "fell_too_fast", method) == said


@pytest.mark.parametrize(("reading", "said"), [(23.2, []), (22.8, ["warn"])])
def test_a_short_step_counts_as_half_a_halving(reading: float, said: list[str]) -> None:
    """From 5.7 to 5.1 µm a ratio of 1.12, taken as 1.5: 60 × 0.5 = 30 %, 12 g/L."""
    record = with_values(40, 39, 38, 37, 36, 35, reading, 22.5, 20)
    assert severities(record, "fell_too_fast") == said


def test_only_what_is_finer_than_thirty_micrometres_falls_too_fast() -> None:
    cleared = with_values(40, 39, 38, 8, 7.5, 7, 6.5, 6, 5)
    for at_s, um, said in ((122.0, 30.1, []), (124.0, 29.9, ["warn"])):
        record = at_times(cleared, {2: at_s})
        assert figures(record).points[2].diameter_um == pytest.approx(um, abs=0.05)
        assert severities(record, "fell_too_fast") == said


def _falling_to(last: float) -> RunRecord:
    return with_values(40, 36, 31, 26, 20, 14, 11, 10, last)


def test_a_tenth_of_the_first_reading_is_not_clear() -> None:
    """88.75 % at first, of which a tenth is 8.9 %, 8.05 on the stem."""
    assert severities(_falling_to(8.1), "clear_late") == []
    assert severities(_falling_to(8.0), "clear_late") == ["note"]


def test_less_than_a_fifth_at_first_is_no_soil_that_could_have_flocculated() -> None:
    """12.5 on the stem is 20 %."""
    for first, said in ((12.4, []), (12.5, ["note"])):
        assert severities(with_values(first, 11, 10, 9, 8, 7, 6, 5, 4.5), "clear_late") == said


def test_a_soil_that_felt_clayey_keeps_a_tenth() -> None:
    """8.5 on the stem is 10 %."""
    for last, said in ((8.5, []), (8.4, ["warn"])):
        assert severities(replace(_falling_to(last), field_clayey=True), "flocculation_suspected") == said


def test_clear_counts_from_an_hour_on() -> None:
    early = only(with_values(40, 30, 20, 10, 6, 4.6, *READINGS[6:]), *range(6))
    for last_s, said in ((3590.0, []), (3600.0, ["note"])):
        assert severities(at_times(early, {5: last_s}), "clear_late") == said


@pytest.mark.parametrize(
    ("below_g_l", "said", "method"),
    [
        (1.12, ["note"], NINE), (1.14, ["warn"], NINE), (1.48, ["warn"], NINE), (1.50, ["stop"], NINE),
        (0.50, ["warn"], EXACT_BENCH), (0.55, ["stop"], EXACT_BENCH),
    ],
)  # fmt: skip
def test_readings_below_their_blank(below_g_l: float, said: list[str], method: MethodEdition) -> None:
    assert severities(with_reading(8, reading=4.5 - below_g_l), "negative_reading", method) == said


@pytest.mark.parametrize(
    ("oven_dry_g", "said", "method"),
    [(34.2, [], NINE), (34.0, ["stop"], NINE), (34.82, [], EXACT_BENCH), (34.78, ["stop"], EXACT_BENCH)],
)
def test_more_in_suspension_than_the_portion_gives(
    oven_dry_g: float, said: list[str], method: MethodEdition
) -> None:
    """35.5 g/L less 3 × 0.471 = 34.09 g, or less 2 % = 34.80 g where reading is better than that."""
    assert severities(good_run(oven_dry_mass_g=oven_dry_g), "more_than_portion", method) == said


@pytest.mark.parametrize(
    ("second", "said", "method"),
    [
        (18.28, [], NINE), (18.32, ["note"], NINE), (19.72, ["note"], NINE), (19.75, ["warn"], NINE),
        (20.30, ["warn"], NINE), (20.33, ["stop"], NINE),
        (19.78, ["warn"], EXACT_BENCH), (19.82, ["stop"], EXACT_BENCH),
    ],
)  # fmt: skip
def test_a_curve_kept_from_rising(second: float, said: list[str], method: MethodEdition) -> None:
    assert severities(with_reading(7, reading=second), "curve_adjusted", method) == said
