"""A bench sheet held against its form: every fault with its place, before anything is computed."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from jsonschema import Draft202012Validator

from particles.bench_sheet.faults import Fault
from particles.distribution.plain import Plain, value_from_plain
from particles.distribution.possible import (
    SAMPLE_POSSIBLE_G,
    SIEVE_OPENING_POSSIBLE_UM,
    TEMPERATURE_POSSIBLE_C,
)

T = TypeVar("T")
SCHEMA_PATH = Path(__file__).with_name("schema.json")
SHAPE_KEPT = {"minimum", "maximum", "exclusiveMinimum", "pattern"}
"""Schema faults after which the sheet still has its shape, so that the further checks can run."""
DEEPEST = 20
"""Levels of lists and objects in each other; a sheet has six."""
MOST_TOLD = 20
"""Faults of one kind that are listed; the rest would be read by nobody."""
LONGEST_FAULT = 300
"""Letters of a fault's sentence, which may quote what was given."""
TURNS_TEXT_ROUND = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Signs that turn the direction of what follows, so that a line reads otherwise than it is written."""


class BenchSheetError(ValueError):
    """The sheet cannot be read; `faults` lists everything found, by place."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: fault.place))
        super().__init__("\n".join(str(fault) for fault in self.faults))


def checked_sheet(data: Plain, kind: type[T], further: Callable[[T], Iterator[Fault]]) -> T:
    """The sheet in its form. BenchSheetError lists the schema's faults, and `further` ones if it keeps its shape."""
    errors = list(islice(schema_validator(kind.__name__.lower()).iter_errors(data), MOST_TOLD))
    faults = [_as_fault(error) for error in errors]
    if any(error.validator not in SHAPE_KEPT for error in errors):
        raise BenchSheetError(faults)
    sheet = value_from_plain(kind, data)
    faults += islice((each for each in further(sheet) if _is_new(each, faults)), MOST_TOLD)
    if faults:
        raise BenchSheetError(faults)
    return sheet


def _is_new(fault: Fault, told: list[Fault]) -> bool:
    return all(fault.place != other.place for other in told)


@cache
def schema_validator(kind: str) -> Draft202012Validator:
    """The validator of one kind of sheet."""
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": schema["$defs"]})


def refuse_bad_text(data: object) -> None:
    """
    BenchSheetError for text that would print otherwise than it reads, and for a sheet nested too deep to be one.

    Line breaks, escapes of a terminal, halves of a character and signs that turn the text round.
    """
    faults = list(islice(_text_faults(data), MOST_TOLD))
    if faults:
        raise BenchSheetError(faults)


def _text_faults(data: object) -> Iterator[Fault]:
    waiting: list[tuple[tuple[str, ...], object]] = [((), data)]
    while waiting:
        place, value = waiting.pop()
        if len(place) > DEEPEST:
            raise BenchSheetError([Fault("", f"is nested more than {DEEPEST} deep, which no sheet is")])
        if isinstance(value, str):
            yield from _bad_sign("/".join(place), value)
        elif isinstance(value, Mapping):
            for key, item in value.items():
                yield from _bad_sign("/".join(place), str(key))
                waiting.append(((*place, str(key)), item))
        elif isinstance(value, list | tuple):
            waiting += [((*place, str(k)), item) for k, item in enumerate(value)]


def _bad_sign(place: str, text: str) -> Iterator[Fault]:
    for sign in text:
        if unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") or sign in TURNS_TEXT_ROUND:
            yield Fault(place, f"holds U+{ord(sign):04X}, which no line of text may; leave it out")
            return


def _as_fault(error: Any) -> Fault:
    steps = [str(step) for step in error.absolute_path]
    what = _in_words(error, steps[-1] if steps else "")
    if len(what) > LONGEST_FAULT:
        what = f"{what[:LONGEST_FAULT]} …"
    return Fault("/".join(steps), what)


def _in_words(error: Any, name: str) -> str:
    if error.validator == "oneOf" and name == "depth":
        return (
            "give either intercept_cm and slope_cm_per_unit, or readings and depths_cm, or the bulb's measures, "
            "above zero"
        )
    if error.validator == "pattern":
        return "must be a figure as it was printed, with point or comma, such as '24.0'"
    if error.validator in ("not", "anyOf"):
        return "give either the masses on the sieves and in the pan, or the percents passing"
    if error.validator in ("minimum", "maximum", "exclusiveMinimum"):
        for end, words in OUT_OF_RANGE.items():
            if name.endswith(end):
                return words(float(error.instance))
    return str(error.message)


def _temperature(given: float) -> str:
    said = f"{given:g} °C lies outside {TEMPERATURE_POSSIBLE_C}. Check the thermometer and its unit"
    celsius = (given - 32.0) / 1.8
    if celsius in TEMPERATURE_POSSIBLE_C:
        name = "temperature_f"
        return f"{said}: {given:g} °F would be {celsius:.1f} °C, and is given as {name}"
    return f"{said}; correct the entry"


def _opening(given: float) -> str:
    said = f"{given:g} µm lies outside {SIEVE_OPENING_POSSIBLE_UM}, the openings of test sieves"
    if 1000.0 * given in SIEVE_OPENING_POSSIBLE_UM:
        return f"{said}. In mm it would be {1000.0 * given:g} µm: give the opening in µm"
    return f"{said}. Check the opening and its unit (µm)"


def _mass(given: float) -> str:
    if given < 0.0:
        return f"{given:g} g is below nothing: check the tare and weigh again"
    return (
        f"{given:g} g is no mass of a sample; up to {SAMPLE_POSSIBLE_G.high:g} g is possible. Check the entry"
    )


OUT_OF_RANGE: Mapping[str, Callable[[float], str]] = MappingProxyType(
    {
        "temperature_c": _temperature,
        "opening_um": _opening,
        "retained_g": _mass,
        "pan_g": _mass,
        "started_with_g": _mass,
        "washed_dry_mass_g": _mass,
        "whole_sample_dry_mass_g": _mass,
    }
)
"""End of a field's name -> what is said of a number outside its range."""
