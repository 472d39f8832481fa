"""The schema of a bench sheet is made from its form, and the kept file is what is made."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

import pytest
from jsonschema import Draft202012Validator

from particles.bench_sheet.checked import SCHEMA_PATH
from particles.bench_sheet.json_schema import keywords, schema_text

ROOT = Path(__file__).resolve().parents[3]


def test_the_kept_schema_is_the_one_made_from_the_form() -> None:
    command = [sys.executable, "-m", "particles.bench_sheet.schema"]
    made = subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    assert made.stdout == SCHEMA_PATH.read_bytes()


class Colour(StrEnum):
    """Colours of a thing."""

    GREY = "grey"
    BROWN = "brown"


@dataclass(frozen=True)
class Part:
    """One part."""

    length_cm: Annotated[float, keywords(exclusiveMinimum=0)]
    """From end
    to end."""
    colour: Colour = Colour.GREY


@dataclass(frozen=True)
class OtherPart:
    """Another part."""

    width_cm: float


@dataclass(frozen=True, kw_only=True)
class Thing:
    """One thing."""

    kind: Literal["thing"]
    note: Annotated[str, keywords(minLength=1)] | None = None
    count: int | None
    parts: Annotated[tuple[Part, ...], keywords(minItems=1)] = ()
    main: Part | OtherPart | None = None
    spare: Part = Part(2.0)
    KEYWORDS: ClassVar[dict[str, Any]] = {"dependentRequired": {"note": ["parts"]}}


def test_a_dataclass_says_its_schema() -> None:
    part = {"$ref": "#/$defs/part"}
    assert json.loads(schema_text(Thing, "A thing")) == {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A thing",
        "description": "One thing.",
        "type": "object",
        "additionalProperties": False,
        "required": ["kind", "count"],
        "properties": {
            "kind": {"const": "thing"},
            "note": {"type": "string", "minLength": 1},
            "count": {"type": ["integer", "null"]},
            "parts": {"type": "array", "items": part, "minItems": 1},
            "main": {"oneOf": [part, {"$ref": "#/$defs/other_part"}]},
            "spare": {**part, "default": {"length_cm": 2}},
        },
        "dependentRequired": {"note": ["parts"]},
        "$defs": {
            "part": {
                "description": "One part.",
                "type": "object",
                "additionalProperties": False,
                "required": ["length_cm"],
                "properties": {
                    "length_cm": {
                        "type": "number",
                        "exclusiveMinimum": 0,
                        "description": "From end to end.",
                    },
                    "colour": {"enum": ["grey", "brown"], "default": "grey"},
                },
            },
            "other_part": {
                "description": "Another part.",
                "type": "object",
                "additionalProperties": False,
                "required": ["width_cm"],
                "properties": {"width_cm": {"type": "number"}},
            },
        },
    }


def test_a_type_without_a_schema_is_refused() -> None:
    with pytest.raises(TypeError, match="dict"):
        schema_text(dict[str, int], "Anything")


def test_every_default_of_the_form_is_a_value_the_form_takes() -> None:
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    told = [
        (name, each)
        for name, definition in schema["$defs"].items()
        for each in definition["properties"].values()
        if "default" in each
    ]
    assert len(told) >= 10
    for name, each in told:
        judged = Draft202012Validator({**each, "$defs": schema["$defs"]})
        assert judged.is_valid(each["default"]), name
