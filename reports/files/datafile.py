"""
The figures of a certificate as data: JSON for programs, CSV for spreadsheets.

Both hold the strings of the printed page, so no file can show another figure than the paper. The JSON is
written down in `shape.py` and described by `schema.json`. The CSV has one row for each sample and kind of figure
(`COLUMNS`):

- `kind`, `name`, `value`, `unit`: 'fraction' sand, silt, clay [%]; 'gravel' [% of the whole sample]; 'texture
  class'; 'class chances'; 'curve point' named by its diameter in µm [% finer]; 'qualifier' named in plain
  words, its sentence as value; 'not reported' for a sample without figures.
- `detail`: limits of a fraction, texture system, source of a curve point, severity of a qualifier.
- `interval_95`, `computed`, `below_detection`, `detection_limit`: only for fractions. `value` is what is printed, '< 6'
  for a fraction that its run cannot tell from none; `computed` is the figure then too; `below_detection` 'yes' or 'no'.
- `effect`: only for qualifiers: what it means for the figures.
- `part`: which part of the job's results the certificate is; empty for all of them. 'not in this part' is a sample of
  the job that it does not hold, with the reason as value.
- a 'note' says how the three figures of such a sample total 100.
- `qualifiers`: the plain words of every qualifier of that sample, in every row, so that a row cut out of the file
  still carries them. No file holds a code of the program.

CSV is UTF-8 with a byte order mark: without it spreadsheets take the file for an old 8-bit alphabet
and spoil 'µm' and names. Lines end in CR LF (RFC 4180). A text that a spreadsheet would run as a formula gets
an apostrophe in front; `plain_cell` takes it off again.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from particles.distribution.plain import plain, value_from_plain
from reports.content.context import CertificateContext, SampleSection
from reports.files.shape import DataFile

COLUMNS = (
    "certificate_number",
    "revision",
    "replaces",
    "part",
    "invented_example",
    "issued_on",
    "lab_number",
    "client_label",
    "depth",
    "kind",
    "name",
    "value",
    "unit",
    "interval_95",
    "computed",
    "below_detection",
    "detection_limit",
    "detail",
    "effect",
    "qualifiers",
    "check_url",
)
POSITIONS = ("sand_pct", "silt_pct", "clay_pct")
"""Unrounded places in the triangle: kept out of the files, which hold reported figures only."""
SETTLED_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def to_json(context: CertificateContext) -> bytes:
    """The whole content of the certificate as UTF-8 JSON, keys in the order of `DataFile`."""
    content = {
        "format": "siltbook certificate data",
        "format_version": 5,
        **asdict(context),
        "samples": [_sample(sample) for sample in context.samples],
    }
    held = plain(value_from_plain(DataFile, content))
    return (json.dumps(held, ensure_ascii=False, indent=1) + "\n").encode()


def to_csv(context: CertificateContext) -> bytes:
    """One row for each sample and kind of figure; layout in the text at the head of this module."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, COLUMNS, restval="")
    writer.writeheader()
    for sample in context.samples:
        for row in _rows(sample):
            whole = {**_shared(context, sample), **row}
            writer.writerow({column: guarded_cell(value) for column, value in whole.items()})
    for absent in context.part.not_in_it if context.part is not None else ():
        named = {"lab_number": absent.lab_number, "client_label": absent.client_label}
        row = {**_of_document(context), **named, "kind": "not in this part", "value": absent.why}
        writer.writerow({column: guarded_cell(value) for column, value in row.items()})
    return text.getvalue().encode("utf-8-sig")


def guarded_cell(text: str) -> str:
    """
    The text as a spreadsheet may safely open it: an apostrophe in front of what it would run as a formula.

    >>> guarded_cell("=1+1"), guarded_cell("-0.4"), guarded_cell("clay")
    ("'=1+1", '-0.4', 'clay')
    """
    bare = text.lstrip("' ")
    return f"'{text}" if bare.startswith(FORMULA_STARTS) and not SETTLED_NUMBER.fullmatch(text) else text


def plain_cell(cell: str) -> str:
    """
    The text of a cell without the apostrophe that `guarded_cell` put in front.

    >>> plain_cell("'=1+1"), plain_cell("'tis loam")
    ('=1+1', "'tis loam")
    """
    return cell[1:] if cell.startswith("'") and guarded_cell(cell[1:]) == cell else cell


def _sample(sample: SampleSection) -> dict[str, Any]:
    content = asdict(sample)
    for position in POSITIONS:
        del content[position]
    content["curve"] = [
        {"diameter_um": row.diameter_text, "percent_finer": row.percent_text, "source": row.source}
        for row in sample.curve
    ]
    return content


def _of_document(context: CertificateContext) -> dict[str, str]:
    return {
        "certificate_number": context.number,
        "revision": str(context.revision),
        "replaces": context.replaces,
        "part": "" if context.part is None else str(context.part.number),
        "invented_example": "yes" if context.invented else "no",
        "issued_on": context.issued_on,
        "check_url": context.check_url,
    }


def _shared(context: CertificateContext, sample: SampleSection) -> dict[str, str]:
    return {
        **_of_document(context),
        "lab_number": sample.lab_number,
        "client_label": sample.client_label,
        "depth": sample.depth,
        "qualifiers": "; ".join(row.title for row in sample.qualifiers),
    }


def _rows(sample: SampleSection) -> Iterator[dict[str, str]]:
    if sample.reported:
        yield from _figures(sample)
    else:
        yield {"kind": "not reported", "value": "see the qualifiers of this sample"}
    for row in sample.qualifiers:
        yield {
            "kind": "qualifier",
            "name": row.title,
            "value": row.sentence,
            "detail": row.severity,
            "effect": row.effect,
        }


def _figures(sample: SampleSection) -> Iterator[dict[str, str]]:
    for row in sample.fractions:
        figure = {"kind": "fraction", "name": row.name, "value": row.printed_pct, "unit": "%"}
        below = "yes" if row.below_detection else "no"
        limits = {
            "computed": row.value_pct,
            "below_detection": below,
            "detection_limit": row.detection_limit_pct,
        }
        yield {**figure, "interval_95": row.interval_pct, "detail": row.limits, **limits}
    if sample.below_detection_note:
        yield {"kind": "note", "name": "below detection", "value": sample.below_detection_note}
    yield {"kind": "gravel", "name": "gravel", "value": sample.gravel_pct, "unit": "% of the whole sample"}
    yield {"kind": "texture class", "value": sample.texture_class, "detail": sample.texture_system}
    yield {"kind": "class chances", "value": sample.class_chances, "detail": sample.texture_system}
    for point in sample.curve:
        figure = {"kind": "curve point", "name": point.diameter_text, "value": point.percent_text}
        yield {**figure, "unit": "% finer", "detail": point.source}
