"""Data files: the figures of the page, valid, and safe to open."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.files import datafile
from reports.files.datafile import COLUMNS, guarded_cell, plain_cell, to_csv, to_json
from tests.support.example_context import CONTEXT, PURE_SAND, SAMPLE

WITH_SAND = replace(CONTEXT, samples=(*CONTEXT.samples, PURE_SAND))
ROOT = Path(__file__).resolve().parents[3]
SCHEMA_PATH = Path(datafile.__file__).with_name("schema.json")
SCHEMA = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))


def _rows(context=CONTEXT):
    cells = csv.DictReader(io.StringIO(to_csv(context).decode("utf-8-sig"), newline=""))
    return [{column: plain_cell(cell) for column, cell in row.items()} for row in cells]


def _of_kind(kind, lab_number):
    return [row for row in _rows(WITH_SAND) if row["kind"] == kind and row["lab_number"] == lab_number]


def _problems(content):
    return list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(content))


def test_the_kept_schema_is_the_one_made_from_the_shape():
    made = subprocess.run(
        [sys.executable, "-m", "reports.files.schema"], cwd=ROOT, capture_output=True, check=True
    )
    assert made.stdout == SCHEMA_PATH.read_bytes()


def test_json_is_valid_by_its_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert _problems(json.loads(to_json(CONTEXT))) == []


def test_schema_refuses_figures_for_a_sample_that_is_not_reported():
    content = json.loads(to_json(CONTEXT))
    content["samples"][2]["fractions"] = content["samples"][0]["fractions"]
    assert [list(error.absolute_path) for error in _problems(content)] == [["samples", 2, "fractions"]]


@pytest.mark.parametrize("key", sorted(SCHEMA["required"]))
def test_schema_misses_every_part_left_out(key):
    content = json.loads(to_json(CONTEXT))
    del content[key]
    assert key in _problems(content)[0].message


def test_json_keeps_unrounded_places_out():
    assert "37.91" in str(SAMPLE.sand_pct)
    assert b"37.91" not in to_json(CONTEXT)
    assert b"37.91" not in to_csv(CONTEXT)


@pytest.mark.parametrize("sample", WITH_SAND.samples, ids=lambda sample: sample.lab_number)
def test_csv_figures_equal_json_figures(sample):
    content = json.loads(to_json(WITH_SAND))
    told = next(each for each in content["samples"] if each["lab_number"] == sample.lab_number)
    fractions = [
        {
            "name": row["name"],
            "limits": row["detail"],
            "printed_pct": row["value"],
            "interval_pct": row["interval_95"],
            "value_pct": row["computed"],
            "below_detection": row["below_detection"] == "yes",
            "detection_limit_pct": row["detection_limit"],
        }
        for row in _of_kind("fraction", sample.lab_number)
    ]
    points = [
        {"diameter_um": row["name"], "percent_finer": row["value"], "source": row["detail"]}
        for row in _of_kind("curve point", sample.lab_number)
    ]
    qualifiers = [
        {"title": row["name"], "severity": row["detail"], "sentence": row["value"], "effect": row["effect"]}
        for row in _of_kind("qualifier", sample.lab_number)
    ]
    assert fractions == told["fractions"]
    assert points == told["curve"]
    assert qualifiers == told["qualifiers"]


def test_a_fraction_below_detection_keeps_its_computed_figure_in_the_files_bench_fault_97():
    """Bench fault 97: what is printed is the limit, and both files say so beside the figure."""
    content = json.loads(to_json(WITH_SAND))
    assert content["format_version"] == 5
    assert _problems(content) == []
    sand, silt, clay = content["samples"][3]["fractions"]
    assert [part["printed_pct"] for part in (sand, silt, clay)] == ["96", "< 9", "< 6"]
    assert [part["value_pct"] for part in (sand, silt, clay)] == ["96", "3", "1"]
    assert [part["below_detection"] for part in (sand, silt, clay)] == [False, True, True]
    assert content["samples"][3]["below_detection_note"]
    (note,) = _of_kind("note", PURE_SAND.lab_number)
    assert note["value"] == PURE_SAND.below_detection_note
    assert _of_kind("note", SAMPLE.lab_number) == []


def test_every_row_names_certificate_revision_and_qualifiers():
    rows = _rows()
    assert {row["certificate_number"] for row in rows} == {CONTEXT.number}
    assert {row["revision"] for row in rows} == {"1"}
    titles = {row["lab_number"]: row["qualifiers"] for row in rows}
    assert titles == {
        "T26-0417-01": "soak short; late reading",
        "T26-0417-02": "",
        "T26-0417-03": "flocculated",
    }


def test_sample_without_figures_has_no_figure_rows():
    kinds = {row["kind"] for row in _rows() if row["lab_number"] == "T26-0417-03"}
    assert kinds == {"not reported", "qualifier"}


def test_csv_starts_with_a_mark_and_ends_lines_as_the_standard_says():
    made = to_csv(CONTEXT)
    assert made.startswith(b"\xef\xbb\xbf" + ",".join(COLUMNS).encode() + b"\r\n")
    assert made.count(b"\n") == made.count(b"\r\n")


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-2+3", "@sum", "\t=1", "'=1", " =1", "-"])
def test_formula_like_text_is_guarded_and_comes_back(text):
    assert guarded_cell(text).startswith("'")
    assert plain_cell(guarded_cell(text)) == text


@pytest.mark.parametrize("text", ["-0.4", "+3", "12,5", "loam", "'tis", "< 2", ""])
def test_figures_and_plain_text_stay_as_they_are(text):
    assert guarded_cell(text) == text


@given(st.text(alphabet="=+-@' \t1.ab"))
def test_no_guarded_cell_starts_a_formula_and_all_come_back(text):
    cell = guarded_cell(text)
    assert plain_cell(cell) == text
    assert not cell.startswith(("=", "@", "\t"))


def test_client_label_cannot_become_a_formula_in_the_file():
    label = '=HYPERLINK("http://x.example","y")'
    context = replace(CONTEXT, samples=(replace(SAMPLE, client_label=label),))
    raw = csv.reader(io.StringIO(to_csv(context).decode("utf-8-sig"), newline=""))
    assert {row[7] for row in list(raw)[1:]} == {"'" + label}
    assert {row["client_label"] for row in _rows(context)} == {label}
