"""The JSON of a sheet's file, read so that nothing in it can surprise what comes after."""

from __future__ import annotations

import json
from math import isfinite
from pathlib import Path
from typing import Any

from particles.bench_sheet.checked import BenchSheetError
from particles.bench_sheet.faults import Fault

MOST_DIGITS = 15
"""Digits of a whole number; no measurement has more."""


def load_sheet(path: Path) -> object:
    """The JSON of a file; BenchSheetError when it is not there, not JSON, or names a key twice."""
    try:
        return parsed_sheet(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BenchSheetError([Fault("", f"cannot be opened: {error.strerror}")]) from error
    except UnicodeDecodeError as error:
        raise BenchSheetError([Fault("", f"is not JSON: {error}")]) from error


def parsed_sheet(text: str) -> object:
    """The JSON of a text; BenchSheetError as of `load_sheet`."""
    try:
        return json.loads(
            text,
            parse_constant=_refuse_constant,
            parse_int=_whole_number,
            parse_float=_number,
            object_pairs_hook=_without_twins,
        )
    except json.JSONDecodeError as error:
        raise BenchSheetError([Fault("", f"is not JSON: {error}")]) from error
    except RecursionError as error:
        raise BenchSheetError([Fault("", "is nested deeper than any sheet is")]) from error


def _refuse_constant(name: str) -> float:
    raise BenchSheetError([Fault("", f"holds {name}, which is no number")])


def _whole_number(text: str) -> int:
    digits = len(text.lstrip("-"))
    if digits > MOST_DIGITS:
        raise BenchSheetError(
            [Fault("", f"holds a whole number of {digits} digits, which is no measurement")]
        )
    return int(text)


def _number(text: str) -> float:
    number = float(text)
    if not isfinite(number):
        raise BenchSheetError([Fault("", f"holds {text[:20]}, which is larger than any number")])
    return number


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    twins = sorted({name for name in names if names.count(name) > 1})
    if twins:
        raise BenchSheetError([Fault(name, "is given twice") for name in twins])
    return dict(pairs)
