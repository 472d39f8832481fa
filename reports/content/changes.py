"""Differences between an amended certificate and the one it replaces, as sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reports.content.reasons import NO_FIGURES

NOT_COMPARED = {
    *("number", "revision", "part", "replaces", "what_changed", "check_url", "check_code", "samples"),
    *("issued_on", "issued_at", "authorised_by", "authorised_role", "approved_by", "approved_on"),
}
"""Of the document itself, different on every one."""
NOT_PRINTED = {"inputs_digest", "engine_version", "seed", "curve", "sand_pct", "silt_pct", "clay_pct"}
"""Of a sample: where its figures come from. When these differ and no figure does, nothing has changed for a reader."""
FOLLOWING = {"below_detection_note"}
"""Of a sample: said of its figures, whose own differences are told."""
WORDS = {
    "client_label": "label",
    "sampled_on": "day of sampling",
    "received_on": "day of receipt",
    "tested_from": "first day of testing",
    "tested_to": "last day of testing",
    "attempt": "portion",
    "oven_dry_mass_g": "oven-dry portion, g",
    "temperature_range": "temperatures",
    "gravel_pct": "gravel, %",
    "texture_class": "class",
    "method_statements": "statements of the method",
}
"""Field -> what a reader calls it; the others are their own words."""


def changes_between(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """
    One sentence for every difference in what is printed, in the order of the page.

    before, after : `asdict` of two certificate contexts, or their stored form.
    """
    found = [
        _changed("", name, before.get(name), after[name])
        for name in after
        if name not in NOT_COMPARED and not _same(before.get(name), after[name])
    ]
    old = {section["lab_number"]: section for section in before["samples"]}
    new = {section["lab_number"]: section for section in after["samples"]}
    found += [f"sample {number} is no longer on it" for number in old if number not in new]
    for number, section in new.items():
        if number not in old:
            found.append(f"sample {number} is new on it")
        else:
            found += _sample_changes(f"sample {number}: ", old[number], section)
    return found


def _sample_changes(of: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    for name, value in after.items():
        if name in NOT_PRINTED | FOLLOWING or _same(before.get(name), value):
            continue
        if name == "fractions":
            yield from _fraction_changes(of, before[name], value)
        elif name == "qualifiers":
            yield from _qualifier_changes(of, before[name], value)
        elif name == "reported":
            yield f"{of}figures are {'reported now' if value else 'no longer reported'}"
        else:
            yield _changed(of, name, before.get(name), value)


def _fraction_changes(of: str, before: Any, after: Any) -> Iterator[str]:
    old = {row["name"]: row for row in before}
    for row in after:
        was = old.get(row["name"])
        if was is None:
            continue
        if _printed(row) != _printed(was):
            yield f"{of}{row['name']} was {_printed(was)}, is {_printed(row)}"


def _printed(row: Mapping[str, Any]) -> str:
    """Figure and interval as a page shows them, also of a certificate from before there was a “<”."""
    return f"{row.get('printed_pct', row['value_pct'])} % ({row['interval_pct']})"


def _qualifier_changes(of: str, before: Any, after: Any) -> Iterator[str]:
    """What was added and left out; an older reason for no figures is not quoted: it may be an inner note."""
    old, new = ([row["sentence"] for row in rows] for rows in (before, after))
    reasons_then, reasons_now = (list(filter(_is_reason, sentences)) for sentences in (old, new))
    if reasons_then and reasons_now and reasons_then != reasons_now:
        yield f"{of}why no figures are reported is said in other words"
    for sentence in new:
        if sentence not in old and not (reasons_then and _is_reason(sentence)):
            yield f"{of}added “{sentence}”"
    for sentence in old:
        if sentence not in new and not _is_reason(sentence):
            yield f"{of}left out “{sentence}”"


def _is_reason(sentence: str) -> bool:
    return sentence.startswith(NO_FIGURES.removesuffix("."))


def _changed(of: str, name: str, before: Any, after: Any) -> str:
    words = WORDS.get(name, name.replace("_", " "))
    if isinstance(after, list | tuple | bool):
        return f"{of}{words} changed"
    return f"{of}{words} was {before or 'empty'}, is {after or 'empty'}"


def _same(before: Any, after: Any) -> bool:
    """Whether two values are equal, tuples of a fresh context being lists in a stored one."""
    if isinstance(before, list | tuple) and isinstance(after, list | tuple):
        return len(before) == len(after) and all(map(_same, before, after))
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        return before.keys() == after.keys() and all(_same(before[key], after[key]) for key in after)
    return bool(before == after)
