"""The catalogue as lists to read: a Markdown table for developers, and words for the help page."""

from __future__ import annotations

from enum import Enum
from string import Formatter

from particles.distribution.findings.catalogue import CATALOGUE, limit_value
from particles.distribution.findings.catalogue.row import Row

COLUMNS = ("code", "what it is", "reach", "its number", "limits", "source", "on a certificate")
GAP = "…"
UNITS = {
    "pct_per_halving": "% per halving of the diameter",
    "g_cm3": "g/cm³",
    "g_l": "g/L",
    "pct": "%",
    "sd": "standard deviations",
    "ml": "mL",
    "um": "µm",
    "c": "°C",
    "g": "g",
    "h": "h",
    "s": "s",
}
"""End of a limit's name -> its unit, longer ends first."""


def as_markdown() -> str:
    """One line for each code, in the order of the work."""
    lines = [" | ".join(COLUMNS), " | ".join("---" for _ in COLUMNS)]
    lines += [" | ".join(_cells(row)) for row in CATALOGUE.values()]
    return "".join(f"| {line} |\n" for line in lines)


def _cells(row: Row) -> tuple[str, ...]:
    return (
        f"`{row.code}`",
        row.title,
        ", ".join(row.severities),
        f"{row.number} [{row.unit or '-'}]" if row.number else "none",
        ", ".join(f"`{limit}`" for limit in row.limits) or "none",
        row.source,
        row.client or "never printed",
    )


def with_gaps(template: str) -> str:
    """
    A template with one gap for fields that follow each other, which also ends a sentence.

    >>> with_gaps("Dried at {temperature_c} °C."), with_gaps("{what}{note}.")
    ('Dried at … °C.', '…')
    """
    parts = Formatter().parse(template)
    shown = "".join(text + ("" if name is None else GAP) for text, name, _, _ in parts)
    return shown.replace(GAP * 2, GAP).replace(f"{GAP}.", GAP)


def sentences(row: Row) -> tuple[str, ...]:
    """Every different sentence of a row, with gaps for what differs from run to run."""
    return tuple(dict.fromkeys(with_gaps(wording.sentence) for wording in row.wordings.values()))


def next_steps(row: Row) -> tuple[str, ...]:
    """Every different next step of a row, with gaps for what differs from run to run."""
    return tuple(dict.fromkeys(with_gaps(wording.next_step) for wording in row.wordings.values()))


def limits_in_words(row: Row) -> tuple[str, ...]:
    """
    Limits of a row with standard value and unit: those an edition sets, and the fixed ones that carry a unit.

    Factors and counts inside the program say little without it; the row names them.
    """
    named = ((limit, limit_value(limit)) for limit in row.limits)
    shown = ((limit, value) for limit, value in named if _is_number(value) or _is_range(value))
    return tuple(
        _limit(limit, value)
        for limit, value in shown
        if limit.startswith(("limits.", "edition.")) or _unit_end(_name(limit))
    )


def _is_number(value: object) -> bool:
    return not isinstance(value, bool | str | Enum) and hasattr(value, "__float__")


def _is_range(value: object) -> bool:
    return isinstance(value, tuple) and len(value) == 2 and all(map(_is_number, value))


def _name(limit: str) -> str:
    return limit.replace(":", ".").rpartition(".")[2].lower()


def _unit_end(name: str) -> str:
    return next((end for end in UNITS if name.endswith(f"_{end}")), "")


def _limit(limit: str, value: object) -> str:
    """
    Name, value and unit of a limit.

    >>> _limit("limits.blank_usual_g_l", (0.0, 9.0)), _limit("findings.fall:GEL_FROM_S", 1800.0)
    ('blank usual 0 to 9 g/L', 'gel from 1800 s')
    """
    name = _name(limit)
    unit = _unit_end(name)
    words = name.removesuffix(f"_{unit}").replace("_", " ")
    figure = " to ".join(f"{number:g}" for number in value) if isinstance(value, tuple) else f"{value:g}"
    return f"{words} {figure} {UNITS.get(unit, '')}".rstrip()
