"""
JSON Schema (2020-12) of frozen dataclasses, which are the one place where a file format is written down.

A field without a default is required. A default of None or () means that the field may be left out; any other default
is told. `None` in the type of a required field is JSON's null. Docstrings become descriptions, those under a
field too. `keywords` says what a type cannot; a class variable KEYWORDS says it of a whole object.
"""

from __future__ import annotations

import ast
import inspect
import json
import types
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from itertools import pairwise
from re import sub
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

DIALECT = "https://json-schema.org/draft/2020-12/schema"
SCALARS: Mapping[object, str] = {str: "string", bool: "boolean", int: "integer", float: "number"}
LEFT_OUT = (None, ())
"""Defaults that stand for a field which is not there."""

Schema = dict[str, Any]


def keywords(**given: float | str | bool) -> tuple[tuple[str, Any], ...]:
    """
    Keywords of JSON Schema for an Annotated type.

    >>> keywords(minimum=10.0, maximum=40.5)
    (('minimum', 10), ('maximum', 40.5))
    """
    return tuple((name, _whole(value)) for name, value in given.items())


def schema_text(root: Any, title: str, description: str = "") -> str:
    """The schema of a dataclass, or of a union of them, as its file holds it."""
    definitions: Schema = {}
    head = {"$schema": DIALECT, "title": title, "description": description, "type": "object"}
    body = _object(root, definitions) if is_dataclass(root) else _of(root, definitions)
    return json.dumps({**head, **body, "$defs": definitions}, ensure_ascii=False, indent=2) + "\n"


def _of(hint: Any, definitions: Schema) -> Schema:
    """Schema of one type; dataclasses go to the definitions and are referred to."""
    origin, inner = get_origin(hint), get_args(hint)
    if hint in SCALARS:
        return {"type": SCALARS[hint]}
    if origin is Annotated:
        return _of(inner[0], definitions) | dict(pair for each in hint.__metadata__ for pair in each)
    if origin is Literal:
        return {"const": inner[0]} if len(inner) == 1 else {"enum": list(inner)}
    if origin is tuple and inner[1:] == (Ellipsis,):
        return {"type": "array", "items": _of(inner[0], definitions)}
    if origin in (Union, types.UnionType):
        return _of_union(inner, definitions)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return {"enum": [each.value for each in hint]}
    if is_dataclass(hint):
        return _reference(hint, definitions)
    raise TypeError(f"JSON Schema has no words here for {hint!r}")


def _of_union(kinds: tuple[Any, ...], definitions: Schema) -> Schema:
    schemas = [_of(kind, definitions) for kind in kinds if kind is not types.NoneType]
    if types.NoneType not in kinds:
        return {"oneOf": schemas}
    (schema,) = schemas
    if "type" not in schema:
        return {"oneOf": [schema, {"type": "null"}]}
    return {**schema, "type": [schema["type"], "null"]}


def _reference(kind: Any, definitions: Schema) -> Schema:
    name = sub(r"(?<=[a-z])(?=[A-Z])", "_", kind.__name__).lower()
    if name not in definitions:
        definitions[name] = {}  # keeps the place before those it refers to
        definitions[name] = _object(kind, definitions)
    return {"$ref": f"#/$defs/{name}"}


def _object(kind: Any, definitions: Schema) -> Schema:
    hints, told = get_type_hints(kind, include_extras=True), _field_docstrings(kind)
    required = [each.name for each in fields(kind) if each.default is MISSING]
    properties = {}
    for each in fields(kind):
        hint = _present(hints[each.name]) if each.default in LEFT_OUT else hints[each.name]
        properties[each.name] = _of(hint, definitions) | _default(each) | told.get(each.name, {})
    return {
        "description": _words(kind.__doc__),
        "type": "object",
        "additionalProperties": False,
        **({"required": required} if required else {}),
        "properties": properties,
        **vars(kind).get("KEYWORDS", {}),
    }


def _present(hint: Any) -> Any:
    """The type without the None that stands for a field left out."""
    if get_origin(hint) not in (Union, types.UnionType):
        return hint
    return Union[tuple(kind for kind in get_args(hint) if kind is not types.NoneType)]  # noqa: UP007


def _default(each: Field[Any]) -> Schema:
    left_out = each.default is MISSING or each.default in LEFT_OUT
    return {} if left_out else {"default": _plain(each.default)}


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        held = {each.name: (getattr(value, each.name), each.default) for each in fields(value)}
        return {name: _plain(given) for name, (given, default) in held.items() if given != default}
    return value.value if isinstance(value, Enum) else _whole(value)


def _whole(value: Any) -> Any:
    """A number as JSON shows it to people: 10 for 10.0."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _field_docstrings(kind: Any) -> dict[str, Schema]:
    found: dict[str, Schema] = {}
    (tree,) = ast.parse(inspect.getsource(kind)).body
    assert isinstance(tree, ast.ClassDef), "a dataclass is written as a class at the left margin"
    for before, after in pairwise(tree.body):
        match before, after:
            case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(value=ast.Constant(value=str(text))):
                found[name] = {"description": _words(text)}
    return found


def _words(text: str) -> str:
    return " ".join(text.split())
