"""Where findings on times, temperatures, typing and the start begin, from both sides; the numbers are written here."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import METHOD_EDITIONS, Correction, MethodEdition, RunRecord
from tests.support.runs import (
    EXACT_BENCH,
    NINE,
    READINGS,
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

GOOD = good_run()


@pytest.mark.parametrize(
    ("slot", "within_s", "late_s"),
    [
        (0, 32.0, 32.5),
        (0, 28.0, 27.5),
        (1, 63.0, 63.5),
        (2, 183.6, 184.0),
        (3, 612.0, 612.5),
        (8, 88128.0, 88140.0),
    ],
)
def test_a_reading_off_its_time(slot: int, within_s: float, late_s: float) -> None:
    """2 s at half a minute, 3 s at a minute, 2 % later."""
    assert severities(at_times(GOOD, {slot: within_s}), "off_schedule") == []
    assert severities(at_times(GOOD, {slot: late_s}), "off_schedule") == ["note"]


@pytest.mark.parametrize(("slot", "late_s", "own_s"), [(0, 44.9, 45.0), (1, 74.5, 75.5), (2, 215.5, 216.5)])
def test_a_reading_far_from_every_time_is_one_of_its_own(slot: int, late_s: float, own_s: float) -> None:
    """15 s, or a fifth of the time."""
    assert severities(at_times(GOOD, {slot: late_s}), "off_schedule") == ["note"]
    assert severities(at_times(GOOD, {slot: own_s}), "off_schedule") == []


@pytest.mark.parametrize(("at_c", "said"), [(23.0, []), (23.1, ["warn"]), (19.0, []), (18.9, ["warn"])])
def test_a_jump_of_the_temperature(at_c: float, said: list[str]) -> None:
    assert (
        severities(with_reading(8, temperature_c=at_c, blank_temperature_c=at_c), "temperature_jump") == said
    )


def test_one_temperature_at_ten_readings() -> None:
    eleventh = replace(GOOD.readings[8], elapsed_s=90_000.0, reading=11.5)
    assert severities(GOOD, "temperature_unchanged") == []
    assert severities(replace(GOOD, readings=(*GOOD.readings, eleventh)), "temperature_unchanged") == ["note"]


def test_a_temperature_copied_while_the_blank_moved() -> None:
    """By more than 0.5 °C, or by more than 3 standard deviations of a chi-square: 6.2 to 6.4 on the stem."""
    for at_c, said in ((21.5, []), (21.6, ["warn"])):
        assert severities(with_reading(8, blank_temperature_c=at_c), "temperature_copied") == said
    for blank, said in ((6.2, []), (6.4, ["warn"])):
        assert severities(with_reading(8, blank_reading=blank), "temperature_copied") == said


def test_a_temperature_copied_over_twenty_hours_or_ten_readings() -> None:
    moved = with_reading(8, blank_temperature_c=22.0)
    for last_s, said in ((72_029.0, []), (72_030.0, ["warn"])):
        assert severities(at_times(moved, {8: last_s}), "temperature_copied") == said
    short = at_times(moved, {8: 60_000.0})
    tenth = replace(short.readings[8], elapsed_s=60_600.0)
    assert severities(replace(short, readings=(*short.readings, tenth)), "temperature_copied") == ["warn"]


def test_four_temperatures_are_the_fewest_that_can_be_copied() -> None:
    for moved in (with_reading(8, blank_temperature_c=22.0), with_reading(8, blank_reading=9.0)):
        assert severities(only(moved, 0, 1, 8), "temperature_copied") == []
        assert severities(only(moved, 0, 1, 2, 8), "temperature_copied") == ["warn"]


def test_a_slip_is_suspected_of_three_readings_or_more() -> None:
    """Of two that contradict each other neither can be blamed."""
    rising = with_values(40, 36, 31, 26, 27, 18.5, 17.5, 16.5, 32)
    assert severities(only(rising, 0, 4, 8), "typo_suspected") == ["warn"]
    assert severities(only(rising, 4, 8), "typo_suspected") == []


def test_a_slip_shows_beyond_the_noise_of_a_difference() -> None:
    """2.2 × 0.471 = 1.04 g/L, or 0.5 g/L where reading is better than that."""
    for method, hidden, shown in ((NINE, 18.5, 18.6), (EXACT_BENCH, 18.0, 18.1)):
        assert severities(with_reading(7, reading=hidden), "typo_suspected", method) == []
        assert severities(with_reading(7, reading=shown), "typo_suspected", method) == ["warn"]


@pytest.mark.parametrize(
    ("first", "sand_g", "start_s"),
    [
        (44.0, 0.5, -5.11), (44.0, 1.0, None), (46.0, 4.3, 5.04), (46.0, 4.2, None),
        (37.0, 5.0, -59.5), (37.0, 4.9, None), (37.0, 10.8, 58.3), (37.0, 11.0, None),
    ],
)  # fmt: skip
def test_a_start_that_a_person_can_miss_by(first: float, sand_g: float, start_s: float | None) -> None:
    """5 to 60 s; closer a hand does not keep it, further it would have been seen."""
    record = replace(with_values(first, *READINGS[1:]), sieving=sieved(sand_g, sand_g + 0.3, 0.3))
    found = [
        each
        for each in figures(record, method=EXACT_BENCH).findings
        if each.code.startswith(("timer", "join"))
    ]
    assert [each.code for each in found] == ["join_apart"] + ["timer_suspected"] * (start_s is not None)
    if start_s is not None:
        assert found[-1].number == pytest.approx(start_s, abs=0.1)


def test_two_points_are_the_fewest_that_tell_of_a_start() -> None:
    apart = replace(GOOD, sieving=sieved(4.1, 4.4, 0.3))
    assert severities(only(apart, 0, 1), "timer_suspected") == ["note"]
    assert severities(only(apart, 0), "timer_suspected") == []
    assert severities(replace(only(apart, 0), correction=Correction.COMPOSITE), "timer_suspected") == []


def test_beyond_a_reynolds_number_of_one() -> None:
    for at_s, reynolds, said in ((10.1, 0.987, []), (9.9, 1.017, ["warn"])):
        record = with_reading(0, elapsed_s=at_s)
        assert figures(record).points[0].reynolds == pytest.approx(reynolds, abs=0.002)
        assert severities(record, "beyond_stokes") == said


@pytest.mark.parametrize(
    ("code", "usual", "unusual"),
    [
        ("volume_unusual", {"volume_ml": 950.0}, {"volume_ml": 949.0}),
        ("volume_unusual", {"volume_ml": 1250.0}, {"volume_ml": 1251.0}),
        ("density_unusual", {"particle_density_g_cm3": 2.4}, {"particle_density_g_cm3": 2.39}),
        ("density_unusual", {"particle_density_g_cm3": 3.0}, {"particle_density_g_cm3": 3.01}),
        ("dispersant_high", {"dispersant_g_l": 10.0}, {"dispersant_g_l": 10.1}),
        ("mass_unusual", {"oven_dry_mass_g": 10.0}, {"oven_dry_mass_g": 9.99}),
        ("mass_unusual", {"oven_dry_mass_g": 120.0}, {"oven_dry_mass_g": 120.01}),
    ],
)
def test_usual_portions_and_cylinders(code: str, usual: dict[str, float], unusual: dict[str, float]) -> None:
    assert severities(good_run(**usual), code) == []
    assert severities(good_run(**unusual), code) == ["warn"]


def _clay_at(um: float) -> RunRecord:
    """Read at a time at which 24 h give 1.354 µm, so that the last point lies there."""
    return at_times(GOOD, {8: 86_400.0 * (1.354 / um) ** 2})


def _sand_from(um: float) -> RunRecord:
    """Without the first reading; the next one at the time at which it gives this size."""
    return only(at_times(GOOD, {1: 60.0 * (43.69 / um) ** 2}), *range(1, 9))


@pytest.mark.parametrize(
    ("record", "name", "said"),
    [
        (_clay_at(1.99), "clay", ""), (_clay_at(2.02), "clay", "extrapolated"),
        (_clay_at(2.58), "clay", "extrapolated"), (_clay_at(2.62), "clay", "not_reached"),
        (_sand_from(50.1), "sand", ""), (_sand_from(49.5), "sand", "extrapolated"),
        (_sand_from(38.7), "sand", "extrapolated"), (_sand_from(38.3), "sand", "not_reached"),
    ],
)  # fmt: skip
def test_a_limit_beyond_the_points(record: RunRecord, name: str, said: str) -> None:
    """No further than a factor of 1.3 in diameter: 2.6 µm for clay, 38.5 µm for sand."""
    codes = {each.code for each in figures(record).findings}
    wanted = {f"{name}_limit_{said}"} if said else set()
    assert codes & {f"{name}_limit_extrapolated", f"{name}_limit_not_reached"} == wanted


@pytest.mark.parametrize(
    "edition",
    [each for each in METHOD_EDITIONS.values() if not each.blank_by_physics],
    ids=lambda each: each.code,
)
def test_every_edition_by_minutes_allows_half_an_hour_between_reading_and_blank(
    edition: MethodEdition,
) -> None:
    for gap_s, said in ((1800.0, []), (1800.5, ["warn"] * len(GOOD.readings))):
        assert severities(with_readings(blank_gap_s=gap_s), "blank_far_in_time", edition) == said
