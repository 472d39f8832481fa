"""Sheets that would surprise a program: each is refused with its place and a sentence, none with a traceback."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError

from particles.bench_sheet.checked import BenchSheetError
from particles.bench_sheet.figures import figures_of
from particles.bench_sheet.file import parsed_sheet
from tests.particles.bench_sheet.test_size_distribution_command import EXAMPLES, SHEET, refused, run, written

STACK: dict[str, Any] = {
    "kind": "sieves",
    "title": "Invented stack",
    "started_with_g": 100,
    "sieves": [{"opening_um": 250, "retained_g": 60}, {"opening_um": 75, "retained_g": 39}],
    "pan_g": 1,
}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[" * 100_000 + "]" * 100_000, "nested deeper than any sheet"),
        ('{"kind": "run", "title": ' + "[" * 300 + "]" * 300 + "}", "nested more than 20 deep"),
        ('{"kind": "run", "volume_ml": ' + "9" * 4000 + "}", "whole number of 4000 digits"),
        ('{"kind": "run", "volume_ml": -' + "9" * 5000 + "}", "whole number of 5000 digits"),
        ('{"kind": "run", "volume_ml": 1e999}', "larger than any number"),
        ('{"kind": "run", "volume_ml": NaN}', "NaN, which is no number"),
        (r'{"kind": "run", "title": "a\ud800b"}', "title: holds U+D800"),
    ],
    ids=["deep", "fairly deep", "4000 digits", "5000 digits", "overflow", "no number", "half a character"],
)
def test_what_is_no_sheet_is_refused_in_a_sentence(tmp_path: Path, text: str, said: str) -> None:
    assert said in str(refused(written(tmp_path, text)))


@pytest.mark.parametrize(
    ("sign", "shown"),
    [("\n", "U+000A"), ("\x1b[2K", "U+001B"), ("\u2028", "U+2028"), ("\u202e", "U+202E"), ("\r", "U+000D")],
)
@pytest.mark.parametrize("field", ["title", "source"])
def test_no_text_of_a_sheet_can_print_a_line_of_its_own(
    tmp_path: Path, field: str, sign: str, shown: str
) -> None:
    forged = f"An invented sheet{sign}Certified result allowed: yes"
    error = refused(written(tmp_path, {**STACK, field: forged}))
    assert str(error) == f"{field}: holds {shown}, which no line of text may; leave it out"


def test_not_even_the_name_of_a_field_can(tmp_path: Path) -> None:
    for text in ('{"a\\nCertified": 1}', '{"a\\nCertified": 1, "a\\nCertified": 2}'):
        assert "\n" not in str(refused(written(tmp_path, text)))


def test_a_missed_slot_without_a_temperature_is_computed(tmp_path: Path) -> None:
    rows = [*SHEET["readings"][:2], {"elapsed_s": 1800, "state": "missed"}, *SHEET["readings"][2:]]
    assert "The reading at 30 min was missed" in run(written(tmp_path, {**SHEET, "readings": rows}), draws=0)


@pytest.mark.parametrize("field", ["started_with_g", "pan_g"])
def test_a_mass_that_no_sample_has_is_refused_before_it_overflows(tmp_path: Path, field: str) -> None:
    assert "1e+300 g is no mass of a sample" in str(refused(written(tmp_path, {**STACK, field: 1e300})))


def test_figures_that_are_no_numbers_are_refused_and_not_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "particles.bench_sheet.figures._sieve_figures", lambda sheet: {"basis_g": float("inf")}
    )
    with pytest.raises(BenchSheetError, match="gives no number for basis_g"):
        figures_of(STACK)


@pytest.mark.parametrize("draws", [1_000_001, 1_000_000_000])
def test_draws_have_an_upper_limit(tmp_path: Path, draws: int) -> None:
    with pytest.raises(CommandError, match=f"{draws}.*Use at most 1000000"):
        run(written(tmp_path, SHEET), draws=draws)


def test_sieve_openings_typed_in_mm_are_refused_with_their_micrometres_bench_fault_84() -> None:
    """Bench fault 84: a "sieve" of 0.075 µm."""
    in_mm = {
        **STACK,
        "sieves": [{"opening_um": 0.25, "retained_g": 60}, {"opening_um": 0.075, "retained_g": 39}],
    }
    with pytest.raises(BenchSheetError) as caught:
        figures_of(in_mm)
    assert [fault.place for fault in caught.value.faults] == ["sieves/0/opening_um", "sieves/1/opening_um"]
    assert "In mm it would be 75 µm" in caught.value.faults[1].what


@pytest.mark.parametrize("place", ["temperature_c", "blank_temperature_c"])
def test_73_degrees_are_asked_whether_they_are_fahrenheit(place: str) -> None:
    rows = [{**SHEET["readings"][0], place: 73}, *SHEET["readings"][1:]]
    with pytest.raises(BenchSheetError) as caught:
        figures_of({**SHEET, "readings": rows})
    (fault,) = caught.value.faults
    assert fault.place == f"readings/0/{place}"
    assert "73 °F would be 22.8 °C, and is given as temperature_f" in fault.what


def test_a_thermometer_in_fahrenheit_gives_the_same_figures() -> None:
    names = ("temperature", "blank_temperature")
    rows = [
        {k: v for k, v in row.items() if not k.endswith("temperature_c")}
        | {f"{name}_f": row[f"{name}_c"] * 9 / 5 + 32 for name in names}
        for row in SHEET["readings"]
    ]
    in_f, in_c = (
        figures_of(sheet, draws=0)["distribution"] for sheet in ({**SHEET, "readings": rows}, SHEET)
    )
    assert in_f["fractions"] == in_c["fractions"]
    with pytest.raises(BenchSheetError, match="not both"):
        figures_of({**SHEET, "readings": [{**rows[0], "temperature_c": 21}, *rows[1:]]})


def test_a_stack_in_percent_gives_the_curve_of_its_masses() -> None:
    percents = [{"opening_um": 250, "percent": 40}, {"opening_um": 75, "percent": 1}]
    given = figures_of({"kind": "sieves", "title": "Invented percents", "passing": percents})
    assert given["curve"] == figures_of(STACK)["curve"]
    assert given["basis_g"] is None
    for spoiled in ({**STACK, "passing": percents}, {"kind": "sieves", "title": "nothing"}):
        with pytest.raises(BenchSheetError, match="either the masses on the sieves"):
            figures_of(spoiled)


def test_replicate_moisture_dishes_are_averaged_and_named_when_they_differ() -> None:
    dishes = [{"dish_g": 20, "with_air_dry_g": 30.4, "with_oven_dry_g": 30}] * 2
    portion = {"air_dry_mass_g": 41.6, "moisture_dishes": dishes}
    alike = figures_of({**SHEET, "portion": portion}, draws=0)
    assert alike["distribution"]["oven_dry_mass_g"] == pytest.approx(40.0)
    assert alike["findings"] == []
    apart = [*dishes, {"dish_g": 20, "with_air_dry_g": 30.5, "with_oven_dry_g": 30}]
    figures = figures_of({**SHEET, "portion": {**portion, "moisture_dishes": apart}}, draws=0)
    assert [each["code"] for each in figures["findings"]] == ["moisture_dishes_apart"]
    for bad in (
        {**portion, "moisture_pct": 4},
        {**portion, "moisture_dishes": [{**dishes[0], "with_oven_dry_g": 31}]},
    ):
        with pytest.raises(BenchSheetError, match="portion/moisture_dishes"):
            figures_of({**SHEET, "portion": bad})


def test_what_the_source_printed_is_compared_within_its_own_rounding(tmp_path: Path) -> None:
    figures = figures_of({**SHEET, "printed": {"clay": "23", "silt": "60.0"}}, draws=0)
    assert [(each["name"], each["agrees"]) for each in figures["printed_by_source"]] == [
        ("silt", False),
        ("clay", True),
    ]
    text = run(written(tmp_path, {**SHEET, "printed": {"clay": "22,9"}}), draws=0)
    clay_pct = figures["printed_by_source"][1]["computed_pct"]
    assert (
        f"printed by the source: clay 22,9 %, here {clay_pct:.2f}: differs by more than its rounding" in text
    )
    with pytest.raises(BenchSheetError, match="printed/clay: must be a figure as it was printed"):
        figures_of({**SHEET, "printed": {"clay": "about 23"}})


def test_a_published_pipette_test_agrees_with_what_its_source_printed() -> None:
    """University soil-physics handout "Example Calculations" (read in full): 40, 40 and 20 %."""
    sheet = json.loads((EXAMPLES / "PIP-1.json").read_text(encoding="utf-8"))
    figures = figures_of({**sheet, "printed": {"sand": "40", "silt": "40", "clay": "20"}})
    assert [each["agrees"] for each in figures["printed_by_source"]] == [True] * 3
    assert [each["code"] for each in figures["findings"]] == ["mass_unusual"], "40 g is much for a pipette"


def test_results_of_somebody_else_are_checked_row_by_row_bench_fault_90(tmp_path: Path) -> None:
    """Bench fault 90: the import says which row, and keeps every figure as it was printed."""
    rows = [
        {"name": "A", "sand": "61,0", "silt": "24,0", "clay": "15,0"},
        {"name": "B", "sand": "43,0", "silt": "36,0", "clay": "18,0"},
    ]
    path = written(tmp_path, {"kind": "results", "title": "Invented list", "rows": rows})
    text = run(path)
    assert "   2     43,0     36,0     18,0   B" in text
    assert "STOP  row 2, imported fractions do not add up to 100 %: The fractions add up to 97 %" in text
    figures = json.loads(run(path, json=True))
    assert [(each["row"], each["code"]) for each in figures["findings"]] == [(2, "imported_sum")]
    assert figures["rows"][1] == {"name": "B", "sand": "43,0", "silt": "36,0", "clay": "18,0"}


@pytest.mark.parametrize(
    ("told", "place"),
    [
        ({}, "rows/0/texture_class"),
        ({"texture_system": "USDA"}, "size_limits_um"),
        ({"texture_system": "USDA", "size_limits_um": {"clay": 2, "sand": 63}}, "size_limits_um"),
        ({"texture_system": "USDA", "size_limits_um": {"clay": 5, "sand": 50}}, "size_limits_um"),
        ({"texture_system": "MARS", "size_limits_um": {"clay": 2, "sand": 50}}, "texture_system"),
        ({"size_limits_um": {"clay": 50, "sand": 2}}, "size_limits_um"),
    ],
)
def test_a_class_without_its_system_and_size_limits_is_refused_bench_fault_92(
    told: dict[str, Any], place: str
) -> None:
    """Bench fault 92: 50 or 63 µm, 2 or 5 µm, and a label without the name of its system."""
    rows = [{"name": "A", "sand": "40", "silt": "40", "clay": "20", "texture_class": "loam"}]
    with pytest.raises(BenchSheetError) as caught:
        figures_of({"kind": "results", "title": "Invented list", "rows": rows, **told})
    assert place in [fault.place for fault in caught.value.faults]


def test_a_class_with_its_system_and_size_limits_is_read_bench_fault_92() -> None:
    """Bench fault 92."""
    rows = [{"name": "A", "sand": "40", "silt": "40", "clay": "20", "texture_class": "clay"}]
    told = {"texture_system": "USDA", "size_limits_um": {"clay": 2, "sand": 50}}
    figures = figures_of({"kind": "results", "title": "Invented list", "rows": rows, **told})
    assert [each["code"] for each in figures["findings"]] == ["imported_class"]


def test_a_pipette_sheet_has_findings_and_refuses_what_no_test_holds(tmp_path: Path) -> None:
    sheet = {
        "kind": "pipette",
        "title": "Invented draw",
        "portion": {"oven_dry_mass_g": 20},
        "volume_ml": 1000,
        "aliquots": [
            {"name": "silt and clay", "volume_ml": 25, "dish_g": 30, "dish_and_residue_g": 35},
            {"name": "clay", "volume_ml": 25, "dish_g": 30, "dish_and_residue_g": 30.1},
        ],
    }
    text = run(written(tmp_path, sheet))
    assert "silt: 980.00 %" in text
    assert "STOP  sand below nothing: The sand fraction comes out at -900.00 %" in text
    for name, spoiled in (
        ("portion/oven_dry_mass_g", {"portion": {"oven_dry_mass_g": 1e300}}),
        ("volume_ml", {"volume_ml": 5000}),
        ("dispersant_g_l", {"dispersant_g_l": 900}),
    ):
        with pytest.raises(BenchSheetError, match=name):
            figures_of({**sheet, **spoiled})


def _pipette(volume_ml: float) -> dict[str, Any]:
    aliquots = [{"name": "clay", "volume_ml": 5, "dish_g": 30, "dish_and_residue_g": 30.02}]
    portion = {"oven_dry_mass_g": 20}
    return {
        "kind": "pipette",
        "title": "Invented",
        "portion": portion,
        "volume_ml": volume_ml,
        "aliquots": aliquots,
    }


def _with_fines(diameter_um: float) -> dict[str, Any]:
    points = [
        {"diameter_um": 50, "percent_of_fines": 90},
        {"diameter_um": diameter_um, "percent_of_fines": 10},
    ]
    return {**STACK, "fines_split_um": 75, "hydrometer_points": points}


@pytest.mark.parametrize(
    ("sheet", "place"),
    [
        (_pipette(20), None),
        (_pipette(19.9), "volume_ml"),
        (_pipette(2000), None),
        (_pipette(2001), "volume_ml"),
        ({**STACK, "started_with_g": 100_000}, None),
        ({**STACK, "started_with_g": 100_001}, "started_with_g"),
        (_with_fines(0.01), None),
        (_with_fines(0.009), "hydrometer_points/1/diameter_um"),
    ],
)
def test_what_can_be_ends_where_it_says(sheet: dict[str, Any], place: str | None) -> None:
    if place is None:
        assert figures_of(sheet)["title"]
        return
    with pytest.raises(BenchSheetError) as caught:
        figures_of(sheet)
    assert [fault.place for fault in caught.value.faults] == [place]


def test_json_text_is_read_as_it_stands() -> None:
    assert parsed_sheet('{"a": 123456789012345, "b": -1.5}') == {"a": 123456789012345, "b": -1.5}
