"""Bench sheets: read whole, or refused with every fault and its place."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from particles.bench_sheet.checked import SCHEMA_PATH, BenchSheetError, schema_validator
from particles.bench_sheet.read import RunSheet, read_bench_sheet
from particles.distribution import (
    ClayExtrapolation,
    Correction,
    DepthLine,
    DepthTable,
    Interpolation,
    ReadingPoint,
    ReadingState,
    SieveMass,
    compute_distribution,
)

SHEET: dict[str, Any] = {
    "kind": "run",
    "title": "Invented run",
    "hydrometer": {
        "scale": "152H",
        "depth": {"intercept_cm": 16.295, "slope_cm_per_unit": 0.1641},
        "meniscus_correction": 0.5,
    },
    "portion": {"oven_dry_mass_g": 40},
    "readings": [
        {"elapsed_s": t, "temperature_c": 21, "reading": r, "blank_reading": 4.5, "blank_temperature_c": 21}
        for t, r in ((30, 40), (60, 36), (5400, 17.5), (86400, 12))
    ],
}
SIEVES: dict[str, Any] = {
    "kind": "sieves",
    "title": "Invented stack",
    "sieves": [{"opening_um": 250, "retained_g": 3}, {"opening_um": 75, "retained_g": 4}],
    "pan_g": 1,
}
PIPETTE: dict[str, Any] = {
    "kind": "pipette",
    "title": "Invented draw",
    "portion": {"oven_dry_mass_g": 20},
    "volume_ml": 1000,
    "aliquots": [{"name": "clay", "volume_ml": 25, "dish_g": 30.0, "dish_and_residue_g": 30.2}],
}
TABLE = {"readings": [0, 30, 60], "depths_cm": [16.3, 11.4, 6.5]}
BULB: dict[str, Any] = {
    "bulb_volume_cm3": 67,
    "cylinder_area_cm2": 27.8,
    "bulb_length_cm": 14,
    "distances_to_bulb_top": [{"reading": 0, "distance_cm": 10.5}, {"reading": 50, "distance_cm": 2.3}],
}
STEPS = [{"reading": 0, "correction": 0.2}, {"reading": 60, "correction": -0.1}]
GRAVEL: dict[str, Any] = {
    "whole_sample_dry_mass_g": 500,
    "sieves": [{"opening_um": 4000, "retained_g": 20}, {"opening_um": 2000, "retained_g": 30}],
}


def spoiled(sheet: dict[str, Any], *path_and_value: Any) -> dict[str, Any]:
    """A copy with one value changed; the value None removes it."""
    *path, last, value = path_and_value
    whole = copy.deepcopy(sheet)
    part: Any = whole
    for step in path:
        part = part[step]
    if value is None:
        del part[last]
    else:
        part[last] = value
    return whole


def places(sheet: object) -> list[str]:
    with pytest.raises(BenchSheetError) as caught:
        read_bench_sheet(sheet)
    assert all(fault.what for fault in caught.value.faults)
    return [fault.place for fault in caught.value.faults]


FAULTS = [
    (spoiled(SHEET, "kind", "list"), "kind"),
    (spoiled(SHEET, "kind", ["run"]), "kind"),
    (spoiled(SHEET, "title", None), ""),
    (spoiled(SHEET, "colour", "grey"), ""),
    (spoiled(SHEET, "method_code", "nothing"), "method_code"),
    (spoiled(SHEET, "readings", []), "readings"),
    (spoiled(SHEET, "readings", 1, "temperature_c", 71), "readings/1/temperature_c"),
    (spoiled(SHEET, "readings", 1, "elapsed_s", 30), "readings/1/elapsed_s"),
    (spoiled(SHEET, "readings", 1, "elapsed_s", "1 min"), "readings/1/elapsed_s"),
    (spoiled(SHEET, "readings", 2, "reading", None), "readings/2/reading"),
    (spoiled(SHEET, "readings", 2, "state", "missed"), "readings/2/reading"),
    (spoiled(SHEET, "readings", 2, "composite_correction_g_l", 5), "readings/2/composite_correction_g_l"),
    (spoiled(SHEET, "correction", {"rule": "measured blank", "zero_g_l": 7}), "correction/zero_g_l"),
    (spoiled(SHEET, "hydrometer", "scale", "153H"), "hydrometer/scale"),
    (spoiled(SHEET, "hydrometer", "depth", {"intercept_cm": 16.3}), "hydrometer/depth"),
    (spoiled(SHEET, "hydrometer", "scale_minimum", 60), "hydrometer/scale_minimum"),
    (spoiled(SHEET, "hydrometer", "depth", {**TABLE, "depths_cm": [16.3, 11.4]}), "hydrometer/depth"),
    (spoiled(SHEET, "hydrometer", "depth", {**TABLE, "readings": [0, 30, 30]}), "hydrometer/depth/readings"),
    (
        spoiled(SHEET, "hydrometer", "depth", {**TABLE, "depths_cm": [16.3, 11.4, 12.0]}),
        "hydrometer/depth/depths_cm",
    ),
    (spoiled(SHEET, "size_limits_um", {"clay": 50, "sand": 2}), "size_limits_um"),
    (spoiled(SHEET, "portion", "moisture_pct", -1), "portion/moisture_pct"),
    (spoiled(SHEET, "portion", "oven_dry_mass_g", 0), "portion/oven_dry_mass_g"),
    (
        spoiled(SHEET, "sieving", {"washed_dry_mass_g": 7, "pan_g": 0, "sieves": SIEVES["sieves"][::-1]}),
        "sieving/sieves/1",
    ),
    (
        spoiled(SHEET, "hydrometer", "depth", spoiled(BULB, "distances_to_bulb_top", 1, "distance_cm", 11)),
        "hydrometer/depth/distances_to_bulb_top",
    ),
    (
        spoiled(SHEET, "hydrometer", "depth", spoiled(BULB, "distances_to_bulb_top", 1, "reading", 0)),
        "hydrometer/depth/distances_to_bulb_top",
    ),
    (spoiled(SHEET, "hydrometer", "depth", spoiled(BULB, "bulb_length_cm", None)), "hydrometer/depth"),
    (spoiled(SHEET, "hydrometer", "scale_corrections", STEPS[::-1]), "hydrometer/scale_corrections"),
    (spoiled(SHEET, "hydrometer", "scale_corrections", []), "hydrometer/scale_corrections"),
    (spoiled(SHEET, "interpolation", "by eye"), "interpolation"),
    (spoiled(SHEET, "clay_extrapolation", "far"), "clay_extrapolation"),
    (spoiled(SHEET, "also_systems", ["GERMANY_KA5", "AUSTRALIA"]), "also_systems/1"),
    (spoiled(SHEET, "confirmed_systems", ["MARS"]), "confirmed_systems/0"),
    (spoiled(SHEET, "gravel", spoiled(GRAVEL, "sieves", 1, "opening_um", 1000)), "gravel/sieves/1"),
    (spoiled(SHEET, "gravel", {**GRAVEL, "sieves": GRAVEL["sieves"][::-1]}), "gravel/sieves/1"),
    (spoiled(SHEET, "gravel", {**GRAVEL, "whole_sample_dry_mass_g": 40}), "gravel/whole_sample_dry_mass_g"),
    (spoiled(SHEET, "gravel", spoiled(GRAVEL, "whole_sample_dry_mass_g", None)), "gravel"),
    (
        spoiled(
            SHEET,
            "sieving",
            {"washed_dry_mass_g": 7, "pan_g": 0, "sieves": SIEVES["sieves"], "portion_oven_dry_mass_g": 0},
        ),
        "sieving/portion_oven_dry_mass_g",
    ),
    (spoiled(SIEVES, "sieves", 1, "opening_um", 250), "sieves/1"),
    (spoiled(SIEVES, "sieves", 1, "retained_g", -1), "sieves/1/retained_g"),
    (spoiled(SIEVES, "fines_split_um", 75), ""),
    (
        {
            **SIEVES,
            "fines_split_um": 63,
            "hydrometer_points": [{"diameter_um": 20, "percent_of_fines": 50}],
        },
        "fines_split_um",
    ),
    ({**SIEVES, "sieves": [{"opening_um": 75, "retained_g": 0}], "pan_g": 0}, "sieves"),
    (spoiled(PIPETTE, "aliquots", 0, "dish_and_residue_g", 29.0), "aliquots/0/dish_and_residue_g"),
    (spoiled(PIPETTE, "aliquots", 0, "volume_ml", 1001), "aliquots/0/volume_ml"),
    (spoiled(PIPETTE, "portion", {"air_dry_mass_g": 20}), "portion"),
    (spoiled(PIPETTE, "portion", "moisture_pct", -1), "portion/moisture_pct"),
]


@pytest.mark.parametrize(
    ("sheet", "place"), FAULTS, ids=[f"{k}-{place}" for k, (_, place) in enumerate(FAULTS)]
)
def test_fault_and_its_place(sheet: dict[str, Any], place: str) -> None:
    assert places(sheet) == [place]


def test_all_faults_are_listed_at_once() -> None:
    sheet = spoiled(SHEET, "readings", 1, "temperature_c", 71)
    sheet = spoiled(sheet, "readings", 3, "blank_temperature_c", 4)
    sheet = spoiled(sheet, "readings", 2, "elapsed_s", 60)
    assert places(sheet) == [
        "readings/1/temperature_c",
        "readings/2/elapsed_s",
        "readings/3/blank_temperature_c",
    ]


def test_a_list_is_no_sheet() -> None:
    assert places([1, 2]) == [""]


def test_the_schema_itself_is_valid() -> None:
    Draft202012Validator.check_schema(schema_validator("run").schema)
    assert SCHEMA_PATH.exists()


def test_a_good_sheet_is_read_as_it_stands() -> None:
    sheet = read_bench_sheet(SHEET)
    assert isinstance(sheet, RunSheet)
    assert sheet.method.code == "hydrometer-nine-2026-4"
    assert sheet.record.correction is Correction.MEASURED_BLANK
    assert [point.reading for point in sheet.record.readings] == [40, 36, 17.5, 12]
    assert (sheet.record.hydrometer.scale_minimum, sheet.record.hydrometer.scale_maximum) == (-5.0, 60.0)


def test_readings_may_say_that_they_share_a_blank() -> None:
    sheet = copy.deepcopy(SHEET)
    for row in sheet["readings"][:2]:
        row["blank_number"] = 1
    read = read_bench_sheet(sheet)
    assert isinstance(read, RunSheet)
    assert [point.blank_number for point in read.record.readings] == [1, 1, None, None]
    assert places(spoiled(sheet, "readings", 0, "blank_number", -1)) == ["readings/0/blank_number"]


def test_a_missed_slot_needs_no_temperature() -> None:
    read = read_bench_sheet(spoiled(SHEET, "readings", 2, {"elapsed_s": 5400, "state": "missed"}))
    assert isinstance(read, RunSheet)
    assert read.record.readings[2] == ReadingPoint(5400, None, ReadingState.MISSED)
    assert places(spoiled(SHEET, "readings", 2, "temperature_c", None)) == ["readings/2/temperature_c"]


def test_depth_table_composite_and_limits() -> None:
    sheet = spoiled(SHEET, "hydrometer", "depth", TABLE)
    sheet["correction"] = {"rule": "constant composite correction", "composite_g_l": 5.0}
    sheet["readings"][1]["composite_correction_g_l"] = 5.5
    sheet["size_limits_um"] = {"clay": 2, "sand": 63}
    read = read_bench_sheet(sheet)
    assert isinstance(read, RunSheet)
    assert read.record.hydrometer.depth == DepthTable((0, 30, 60), (16.3, 11.4, 6.5))
    assert [p.composite_correction_graduations for p in read.record.readings] == [5.0, 5.5, 5.0, 5.0]
    assert read.method.code == "hydrometer-nine-2026-4 at 2 and 63 µm"
    assert read.method.sand_limit_um == 63


def test_its_own_limits_leave_the_edition_as_it_is() -> None:
    read = read_bench_sheet({**SHEET, "size_limits_um": {"clay": 2, "sand": 50}})
    assert isinstance(read, RunSheet)
    assert read.method.code == "hydrometer-nine-2026-4"


def test_bulb_scale_corrections_gravel_and_another_portion() -> None:
    sheet = spoiled(SHEET, "hydrometer", "depth", BULB)
    sheet["hydrometer"]["scale_corrections"] = STEPS
    sheet["gravel"] = GRAVEL
    sheet["sieving"] = {
        "washed_dry_mass_g": 7.2,
        "portion_oven_dry_mass_g": 50,
        "pan_g": 0.2,
        "sieves": [{"opening_um": 50, "retained_g": 7}],
    }
    read = read_bench_sheet(sheet)
    assert isinstance(read, RunSheet)
    depth = read.record.hydrometer.depth
    assert isinstance(depth, DepthLine)
    assert (depth.intercept_cm, depth.slope_cm_per_unit) == pytest.approx((16.295, 0.164), abs=0.001)
    assert read.record.hydrometer.scale_corrections == ((0, 0.2), (60, -0.1))
    assert read.record.gravel_sieves == (SieveMass(4000, 20), SieveMass(2000, 30))
    assert read.record.whole_sample_dry_mass_g == 500
    answer = compute_distribution(read.record, read.method, draws=0)
    assert answer.fractions is not None
    assert answer.fractions.sand.value_pct == pytest.approx(14.0)
    assert answer.whole_sample_curve[1].percent_finer == pytest.approx(90.0)


def test_rules_other_than_the_edition_s_are_named_in_its_code() -> None:
    sheet = {
        **SHEET,
        "interpolation": "monotone cubic in log diameter",
        "clay_extrapolation": "none",
        "also_systems": ["BELGIUM", "UK"],
        "confirmed_systems": ["UK"],
    }
    read = read_bench_sheet(sheet)
    assert isinstance(read, RunSheet)
    assert read.method.interpolation is Interpolation.MONOTONE_CUBIC
    assert read.method.clay_extrapolation is ClayExtrapolation.NONE
    assert read.method.code == "hydrometer-nine-2026-4, monotone cubic in log diameter, clay by none"
    assert (read.method.also_systems, read.method.confirmed_systems) == (("BELGIUM", "UK"), ("UK",))
