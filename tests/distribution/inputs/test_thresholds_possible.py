"""Where what cannot be begins: the last value taken and the first refused, written down and not read from the code."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from particles.distribution import (
    DepthLine,
    DepthTable,
    DistributionError,
    Hydrometer,
    HydrometerScale,
    RunRecord,
)
from particles.distribution.possible import (
    CONDUCTIVITY_POSSIBLE_DS_M,
    DRYING_POSSIBLE_C,
    DRYING_POSSIBLE_H,
    MIXING_POSSIBLE_MINUTES,
    MOST_CYLINDERS,
    MOST_PORTIONS,
    ORGANIC_MATTER_POSSIBLE_PCT,
    Possible,
)
from tests.support.runs import STEM_152H, figures, good_run, with_reading, with_readings

STEM_151H = Hydrometer(
    "H-02", HydrometerScale.RELATIVE_DENSITY, DepthLine(16.3, 264.5), 0.0003, 1.2, 0.995, 1.038
)


def _refused_as(record: RunRecord) -> str:
    """Name of the error that stops the computation; '' when there is none."""
    try:
        figures(record)
    except DistributionError as refused:
        return type(refused).__name__
    return ""


def _on(stem: Hydrometer, **changes: Any) -> RunRecord:
    """The good run on another stem, as 151H readings where the stem is one."""
    if stem.scale is HydrometerScale.GRAMS_PER_LITRE:
        return good_run(hydrometer=replace(stem, **changes))
    run = good_run()
    readings = tuple(
        replace(p, reading=1.0 + (p.reading or 0.0) / 1606.0, blank_reading=1.0 + 4.5 / 1606.0)
        for p in run.readings
    )
    return replace(run, hydrometer=replace(stem, **changes), readings=readings)


def _later(last_s: float) -> RunRecord:
    return with_reading(8, elapsed_s=last_s)


@pytest.mark.parametrize(
    ("error", "taken", "refused"),
    [
        ("MassOutOfRangeError", {"oven_dry_mass_g": 5.0}, {"oven_dry_mass_g": 4.99}),
        ("MassOutOfRangeError", {"oven_dry_mass_g": 200.0}, {"oven_dry_mass_g": 200.01}),
        ("DensityOutOfRangeError", {"particle_density_g_cm3": 1.5}, {"particle_density_g_cm3": 1.49}),
        ("DensityOutOfRangeError", {"particle_density_g_cm3": 5.0}, {"particle_density_g_cm3": 5.01}),
        ("VolumeOutOfRangeError", {"volume_ml": 500.0}, {"volume_ml": 499.0}),
        ("VolumeOutOfRangeError", {"volume_ml": 2000.0}, {"volume_ml": 2001.0}),
        ("DispersantOutOfRangeError", {"dispersant_g_l": 25.0}, {"dispersant_g_l": 25.1}),
        ("DispersantOutOfRangeError", {"dispersant_g_l": 0.0}, {"dispersant_g_l": -0.1}),
        ("BetweenRunSpreadOutOfRangeError", {"between_run_sd_pct": 0.0}, {"between_run_sd_pct": -0.1}),
        ("BetweenRunSpreadOutOfRangeError", {"between_run_sd_pct": 20.0}, {"between_run_sd_pct": 20.1}),
    ],
)
def test_portion_and_cylinder(error: str, taken: dict[str, float], refused: dict[str, float]) -> None:
    assert _refused_as(good_run(**taken)) == ""
    assert _refused_as(good_run(**refused)) == error


@pytest.mark.parametrize(("taken_c", "refused_c"), [(10.0, 9.9), (40.0, 40.1)])
def test_temperatures(taken_c: float, refused_c: float) -> None:
    both = {"temperature_c": taken_c, "blank_temperature_c": taken_c}
    assert _refused_as(with_readings(**both)) == ""
    for place in both:
        assert _refused_as(with_readings(**(both | {place: refused_c}))) == "TemperatureOutOfRangeError"


def test_a_blank_ten_degrees_away_is_no_blank_of_this_bench() -> None:
    assert _refused_as(with_readings(temperature_c=31.0)) == ""
    assert _refused_as(with_readings(temperature_c=31.1)) == "TemperatureOutOfRangeError"
    assert _refused_as(with_readings(temperature_c=11.0)) == ""
    assert _refused_as(with_readings(temperature_c=40.0, blank_temperature_c=10.0)) != ""


def test_no_reading_before_the_hydrometer_is_at_rest() -> None:
    assert _refused_as(with_reading(0, elapsed_s=5.0)) == ""
    assert _refused_as(with_reading(0, elapsed_s=4.9)) == "TimesNotRisingError"
    assert _refused_as(with_reading(0, elapsed_s=1e-300)) == "TimesNotRisingError"


def test_no_reading_after_eight_days() -> None:
    assert _refused_as(_later(691_200.0)) == ""
    assert _refused_as(_later(691_201.0)) == "TimesNotRisingError"


@pytest.mark.parametrize(("taken", "refused"), [(0.98, 0.995), (1.07, 1.055)])
def test_a_relative_density_on_a_stem_in_grams_per_litre(taken: float, refused: float) -> None:
    assert _refused_as(with_reading(8, reading=taken)) == ""
    assert _refused_as(with_reading(8, reading=refused)) == "WrongScaleError"


def test_grams_per_litre_on_a_stem_in_relative_density() -> None:
    assert _refused_as(with_reading(8, _on(STEM_151H), reading=2.0)) == ""
    assert _refused_as(with_reading(8, _on(STEM_151H), reading=2.01)) == "WrongScaleError"


@pytest.mark.parametrize(
    ("stem", "taken", "refused"),
    [
        (STEM_152H, {"meniscus_correction": 3.0}, {"meniscus_correction": 3.01}),
        (STEM_151H, {"meniscus_correction": 0.003}, {"meniscus_correction": 0.0031}),
        (STEM_152H, {"meniscus_correction": 0.0}, {"meniscus_correction": -0.1}),
        (STEM_151H, {"meniscus_correction": 0.0}, {"meniscus_correction": -0.0001}),
        (STEM_152H, {"scale_minimum": -20.0}, {"scale_minimum": -20.1}),
        (STEM_152H, {"scale_maximum": 100.0}, {"scale_maximum": 100.1}),
        (STEM_151H, {"scale_minimum": 0.9}, {"scale_minimum": 0.899}),
        (STEM_151H, {"scale_maximum": 1.2}, {"scale_maximum": 1.201}),
        (STEM_152H, {"depth": DepthLine(16.3, 0.05)}, {"depth": DepthLine(16.3, 0.049)}),
        (STEM_152H, {"depth": DepthLine(30.0, 0.5)}, {"depth": DepthLine(30.0, 0.51)}),
        (STEM_151H, {"depth": DepthLine(16.3, 80.0)}, {"depth": DepthLine(16.3, 79.0)}),
        (STEM_151H, {"depth": DepthLine(38.0, 800.0)}, {"depth": DepthLine(38.0, 801.0)}),
        (STEM_152H, {"depth": DepthLine(40.0, 0.1641)}, {"depth": DepthLine(40.1, 0.1641)}),
        (
            STEM_152H,
            {"depth": DepthTable((-5.0, 62.0), (40.0, 9.0))},
            {"depth": DepthTable((-5.0, 62.0), (40.1, 9.0))},
        ),
        (
            STEM_152H,
            {"depth": DepthTable((-5.0, 62.0), (17.0, 6.0))},
            {"depth": DepthTable((-5.0,), (17.0,))},
        ),
    ],
)
def test_instruments(stem: Hydrometer, taken: dict[str, Any], refused: dict[str, Any]) -> None:
    assert _refused_as(_on(stem, **taken)) == ""
    assert _refused_as(_on(stem, **refused)) == "InstrumentOutOfRangeError"


@pytest.mark.parametrize(
    ("possible", "ends", "beyond"),
    [
        (MIXING_POSSIBLE_MINUTES, (0.5, 60.0), (0.4, 60.1)),
        (DRYING_POSSIBLE_C, (5.0, 200.0), (4.9, 200.1)),
        (DRYING_POSSIBLE_H, (0.5, 2000.0), (0.4, 2000.1)),
        (ORGANIC_MATTER_POSSIBLE_PCT, (0.0, 100.0), (-0.1, 100.1)),
        (CONDUCTIVITY_POSSIBLE_DS_M, (0.0, 200.0), (-0.1, 200.1)),
    ],
    ids=["mixing", "drying temperature", "drying time", "organic matter", "conductivity"],
)
def test_what_is_noted_before_the_bench(
    possible: Possible, ends: tuple[float, float], beyond: tuple[float, float]
) -> None:
    assert [number in possible for number in ends] == [True, True]
    assert [number in possible for number in beyond] == [False, False]


def test_a_rack_holds_twenty_four_cylinders_one_of_them_with_the_blank() -> None:
    assert (MOST_CYLINDERS, MOST_PORTIONS) == (24, 23)
