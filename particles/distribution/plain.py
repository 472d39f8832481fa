"""Frozen values to JSON-ready dicts and back, without loss, and the digest of what a result stands on."""

from __future__ import annotations

import json
import types
from collections.abc import Hashable
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from functools import cache
from hashlib import sha256
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from particles.distribution.answer import SizeDistribution
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ADDED, RunRecord, stored_name

T = TypeVar("T")
Plain = dict[str, Any]


def plain(value: Any) -> Any:
    """Dataclasses become dicts under their stored names, tuples lists, enums their values; the rest stays."""
    if is_dataclass(value) and not isinstance(value, type):
        return {stored_name(each): plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value


def to_plain(distribution: SizeDistribution) -> Plain:
    """JSON-ready dict of one distribution; `from_plain` gives back an equal value."""
    return dict(plain(distribution))


def from_plain(data: Plain) -> SizeDistribution:
    """The distribution `to_plain` wrote. KeyError or TypeError when it did not."""
    return value_from_plain(SizeDistribution, data)


def record_to_plain(record: RunRecord) -> Plain:
    """JSON-ready dict of one record."""
    return dict(plain(record))


def record_from_plain(data: Plain) -> RunRecord:
    """The record `record_to_plain` wrote."""
    return value_from_plain(RunRecord, data)


def edition_to_plain(method: MethodEdition) -> Plain:
    """JSON-ready dict of one method edition, as kept beside a result."""
    return dict(plain(method))


def edition_from_plain(data: Plain) -> MethodEdition:
    """The edition `edition_to_plain` wrote."""
    return value_from_plain(MethodEdition, data)


def record_digest(record: RunRecord, method: MethodEdition, engine_version: str) -> str:
    """
    SHA-256, in hex, over the sorted JSON of record, method and engine version; 50 and 50.0 are one.

    Fields marked as added later are left out while they hold their default.
    """
    basis = _all_floats(
        {"engine": engine_version, "method": _for_digest(method), "record": _for_digest(record)}
    )
    text = json.dumps(basis, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return sha256(text.encode()).hexdigest()


def _for_digest(value: Any) -> Any:
    """Plain form of a value for its digest: as `plain`, without the later fields that hold their default."""
    if is_dataclass(value) and not isinstance(value, type):
        named = ((each, getattr(value, each.name)) for each in fields(value))
        return {
            stored_name(each): _for_digest(held) for each, held in named if not _is_later_default(each, held)
        }
    if isinstance(value, tuple | list):
        return [_for_digest(item) for item in value]
    return plain(value)


def _is_later_default(each: Field[Any], held: Any) -> bool:
    if each.metadata.get("since") != ADDED["since"]:
        return False
    return bool(held == (each.default_factory() if each.default_factory is not MISSING else each.default))


def _all_floats(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _all_floats(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_all_floats(item) for item in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


@cache
def _hints(kind: Hashable) -> dict[str, Any]:
    return get_type_hints(cast(type, kind))


@cache
def _names(kind: Hashable) -> dict[str, str]:
    """Stored name -> name of the field."""
    return {stored_name(each): each.name for each in fields(cast(Any, kind))}


def value_from_plain(kind: type[T], data: Plain) -> T:
    """The frozen value of a kind from its plain form. KeyError or TypeError for other names than its own."""
    names = _names(cast(Hashable, kind))
    unknown = set(data) - set(names)
    if unknown:
        raise KeyError(f"{kind.__name__} has no field {', '.join(sorted(unknown))}")
    hints = _hints(cast(Hashable, kind))
    return kind(**{names[name]: _build(hints[names[name]], item) for name, item in data.items()})


def _build(kind: Any, data: Any) -> Any:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return _build_either(inner, data)
    if origin is tuple:
        kinds = [inner[0]] * len(data) if inner[-1] is Ellipsis else list(inner)
        return tuple(_build(each, item) for each, item in zip(kinds, data, strict=True))
    if is_dataclass(kind):
        return value_from_plain(kind, data)  # type: ignore[arg-type]
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind(data)
    return float(data) if kind is float else data


def _build_either(kinds: tuple[Any, ...], data: Any) -> Any:
    if data is None:
        return None
    candidates = [kind for kind in kinds if kind is not types.NoneType]
    if isinstance(data, dict) and len(candidates) > 1:
        candidates = [kind for kind in candidates if set(_names(kind)) == set(data)]
    return _build(candidates[0], data)
