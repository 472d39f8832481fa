"""
Physical traps of the method, and what quality control allows, each under its number in the method's reference.

Sizes of the effects are those of its sections 13 to 15: computed there from Stokes' law and the scale's meaning, or
*common practice*. Published sheets are those of fixtures/worked_examples, with their sources.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from particles.bench_sheet.read import RunSheet, read_bench_sheet
from particles.distribution import DistributionError, SizeDistribution, compute_distribution
from tests.support.published_figures import examples
from tests.support.runs import (
    NINE,
    at_times,
    figures,
    good_run,
    severities,
    sieved,
    with_reading,
    with_readings,
    with_values,
)

GOOD = good_run()
SHEETS: dict[str, dict[str, Any]] = {each["id"]: each["sheet"] for each in examples() if each["sheet"]}


def _published(name: str) -> SizeDistribution:
    sheet = read_bench_sheet(SHEETS[name])
    assert isinstance(sheet, RunSheet)
    return compute_distribution(sheet.record, sheet.method, draws=0)


def _stops(answer: SizeDistribution) -> set[str]:
    return {each.code for each in answer.findings if each.severity.value == "stop"}


def test_trap_1_a_published_negative_reading_keeps_its_sign_and_stops() -> None:
    """HYD-ID-TRAP-6 prints a corrected reading without its minus; here it is shown below zero."""
    answer = _published("HYD-ID-TRAP-6")
    assert min(point.concentration_g_l for point in answer.points) < 0.0
    assert "negative_reading" in {each.code for each in answer.findings}
    assert not answer.certifiable


def test_trap_2_a_published_rise_is_flagged_and_not_certified() -> None:
    """HYD-ID-TRAP-6, an Indonesian calculation sheet: readings rise; more than 1 g/L blocks."""
    assert "rising_reading" in {each.code for each in _published("HYD-ID-TRAP-6").findings}
    assert severities(with_reading(7, reading=18.6), "rising_reading") == ["warn"]
    assert severities(with_reading(7, reading=19.5), "rising_reading") == ["stop"]


def test_trap_3_a_collapse_on_a_soil_that_feels_clayey_is_told_as_flocculation() -> None:
    record = replace(with_values(40, 36, 31, 16, 8, 6, 5.5, 5, 4.8), field_clayey=True)
    assert severities(record, "flocculation_suspected") == ["warn"]


def test_trap_4_above_60_the_reading_is_no_data() -> None:
    assert severities(with_reading(0, reading=60.5), "above_scale") == ["stop"]


def test_trap_5_a_blank_that_moves_against_its_temperature_is_told() -> None:
    """It must fall by 0.29 g/L per °C near 20 °C; here it rises by as much over 8 °C."""
    readings = tuple(
        replace(
            p,
            temperature_c=18.0 + k,
            blank_temperature_c=18.0 + k,
            blank_reading=round(2 * (4 + 0.3 * k)) / 2,
        )
        for k, p in enumerate(GOOD.readings)
    )
    codes = {each.code for each in figures(replace(GOOD, readings=readings)).findings}
    assert codes & {"blank_against_temperature", "blank_drift", "blank_trend", "blank_moved"}


def test_trap_7_a_start_10_s_wrong_moves_the_size_at_30_s_by_a_sixth_and_at_2_h_by_nothing() -> None:
    """dt / (2 t): 17 % at 30 s for 10 s."""
    on_time, wrong = figures(GOOD).points, figures(at_times(GOOD, {0: 40.0, 7: 7210.0})).points
    assert 1.0 - wrong[0].diameter_um / on_time[0].diameter_um == pytest.approx(0.134, abs=0.001)
    assert pytest.approx(10.0 / 60.0, abs=0.02) == (40.0 / 30.0) ** 0.5 - 1.0
    assert 1.0 - wrong[7].diameter_um / on_time[7].diameter_um < 0.001


def test_trap_8_depths_in_millimetres_and_times_in_minutes_are_refused() -> None:
    """They multiply a size by √10 and by √60, 3.16 and 7.7."""
    stem = replace(GOOD.hydrometer, depth=replace(GOOD.hydrometer.depth, intercept_cm=162.95))
    with pytest.raises(DistributionError, match="depth line must start between 0 and 40 cm"):
        figures(replace(GOOD, hydrometer=stem))
    minutes = {k: point.elapsed_s / 60.0 for k, point in enumerate(GOOD.readings)}
    with pytest.raises(DistributionError, match="no hydrometer is at rest"):
        figures(at_times(GOOD, minutes))


def test_trap_9_density_moves_size_and_amount_as_the_reference_says() -> None:
    """+0.1 g/cm³ is -3 % of a size and -2 % of an amount; usual is 2.4 to 3.0, and no soil has 1.5 or 5."""
    plain, dense = figures(GOOD).points[3], figures(replace(GOOD, particle_density_g_cm3=2.75)).points[3]
    assert dense.diameter_um / plain.diameter_um == pytest.approx(0.97, abs=0.003)
    assert dense.concentration_g_l / plain.concentration_g_l == pytest.approx(0.98, abs=0.003)
    for density, found in ((2.39, ["warn"]), (2.4, []), (3.0, []), (3.01, ["warn"])):
        assert severities(replace(GOOD, particle_density_g_cm3=density), "density_unusual") == found
    with pytest.raises(DistributionError, match="density"):
        figures(replace(GOOD, particle_density_g_cm3=5.1))


def test_trap_9_a_published_density_multiplied_by_the_bulk_density_is_stopped_and_the_right_one_is_not() -> (
    None
):
    """HYD-ID-DENSITY-TRAP and its right form: the source multiplied Gs by the bulk density."""
    assert "density_without_record" in _stops(_published("HYD-ID-DENSITY-TRAP"))
    assert "density_without_record" not in _stops(_published("HYD-ID-DENSITY-RIGHT"))


def test_trap_16_a_mass_without_its_moisture_gives_no_certified_figure() -> None:
    record = replace(GOOD, oven_dry_mass_g=None, air_dry_mass_g=41.0)
    assert severities(record, "no_oven_dry_mass") == ["stop"]


def test_trap_17_151h_readings_on_a_152h_sheet_are_refused() -> None:
    """HYD-ID-151H-7, an Indonesian calculation sheet."""
    with pytest.raises(DistributionError, match="relative density"):
        _published("HYD-ID-151H-7")


def test_trap_18_half_a_degree_is_half_a_percent_of_a_size() -> None:
    """Whole degrees cost 0.6 % of a size per 0.5 °C."""
    warm = with_readings(temperature_c=21.5, blank_temperature_c=21.5)
    ratio = figures(warm).points[3].diameter_um / figures(GOOD).points[3].diameter_um
    assert 1.0 - ratio == pytest.approx(0.006, abs=0.0005)


@pytest.mark.parametrize(("silt_pct_below_zero", "found"), [(0.5, ["note"]), (2.5, ["stop"])])
def test_control_limit_silt_below_zero_is_flagged_to_minus_2_and_stops_beyond(
    silt_pct_below_zero: float, found: list[str]
) -> None:
    """Section 14: silt by difference is 0 or more; -2 to 0 is flagged, below -2 blocks; nothing is set to 0."""
    whole = figures(replace(GOOD, sieving=sieved())).fractions
    assert whole is not None
    sand_g = 5.7 + (whole.silt.value_pct + silt_pct_below_zero) * 0.4
    record = replace(GOOD, sieving=sieved(sand_g, sand_g + 0.1, 0.1))
    assert severities(record, "silt_negative") == found
    fractions = figures(record).fractions
    assert fractions is not None
    assert fractions.silt.value_pct == pytest.approx(-silt_pct_below_zero, abs=0.3)


def test_control_limit_a_blank_outside_minus_3_to_12_blocks() -> None:
    """Section 2: usual 0 to 9 g/L, possible -3 to 12."""
    for blank, code in ((9.5, "blank_unusual"), (12.5, "blank_impossible"), (-3.5, "blank_impossible")):
        assert code in {each.code for each in figures(with_readings(blank_reading=blank)).findings}, blank


def test_no_published_sheet_lost_a_figure_to_a_gate() -> None:
    """Gates stop a certified result; whatever could be computed of a published sheet still is."""
    shown = {
        name: _published(name).fractions is not None
        for name, sheet in SHEETS.items()
        if sheet["kind"] == "run" and name not in ("HYD-ID-151H-7", "TWO-PH-TRAP-3")
    }
    assert {name for name, has in shown.items() if has} == {"HYD-ES-14"}
    assert all(_published(name).points for name in shown)


def test_the_good_run_stays_certified() -> None:
    assert figures(GOOD).certifiable
    assert NINE.code == "hydrometer-nine-2026-4"
