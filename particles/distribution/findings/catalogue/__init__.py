"""
The catalogue of findings: one row for each code, and the one way to make a finding.

Everything a person reads of a finding is written here once. The list in DEVELOPERS.md, the help page and the
words of a certificate are made from it: `python -m particles.distribution.findings.catalogue` prints the list.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from types import MappingProxyType

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.catalogue import (
    bench,
    blanks,
    curves,
    falls,
    fractions,
    imported,
    laboratory,
    masses,
    needed,
    neighbours,
    readings,
    sheets,
)
from particles.distribution.findings.catalogue.row import NUMBER, CatalogueError, Row, fields_of, said
from particles.distribution.method.limits import STANDARD_LIMITS
from particles.distribution.method.shipped import DEFAULT_METHOD_CODE, METHOD_EDITIONS

_STATIONS = (
    bench,
    readings,
    falls,
    needed,
    blanks,
    masses,
    curves,
    fractions,
    neighbours,
    sheets,
    imported,
    laboratory,
)
CATALOGUE: Mapping[str, Row] = MappingProxyType({row.code: row for part in _STATIONS for row in part.ROWS})
"""Code -> row, in the order of the work."""


def row_of(code: str) -> Row:
    """
    The row of a code.

    Raises
    ------
    CatalogueError when the catalogue does not hold it.
    """
    if code not in CATALOGUE:
        raise CatalogueError(f"no row in the catalogue of findings for {code!r}")
    return CATALOGUE[code]


def finding(
    code: str,
    *,
    variant: str = "",
    severity: Severity | None = None,
    number: float | None = None,
    reading_index: int | None = None,
    **values: object,
) -> Finding:
    """
    A finding in the words of the catalogue.

    Parameters
    ----------
    variant : which of the code's wordings; '' for a code that has one.
    severity : one of the row's; None for the only one.
    number : in the unit of the row; its templates may name it as `number`.
    reading_index : index into the readings of the run, when it is about one of them.
    values : exactly the fields that the two templates of the wording name.

    Raises
    ------
    CatalogueError for an unknown code, variant or severity, and for fields missing or not used.
    """
    row = row_of(code)
    wording = row.wording(variant)
    needed = fields_of(wording.sentence) | fields_of(wording.next_step)
    if set(values) != needed - {NUMBER}:
        raise CatalogueError(
            f"{code} needs the fields {sorted(needed - {NUMBER})}, given were {sorted(values)}"
        )
    values[NUMBER] = number
    return Finding(
        code=code,
        severity=_severity(row, severity),
        sentence=said(wording.sentence, values),
        next_step=said(wording.next_step, values),
        number=number,
        unit=row.unit if wording.unit is None else wording.unit,
        reading_index=reading_index,
    )


def _severity(row: Row, severity: Severity | None) -> Severity:
    if severity is None and len(row.severities) == 1:
        return row.severities[0]
    if severity not in row.severities:
        raise CatalogueError(f"{row.code} is never {severity}, only {', '.join(row.severities)}")
    return severity


def client_words(code: str) -> str | None:
    """
    The phrase that stands for a code on a certificate; None when it is never printed there.

    Raises
    ------
    CatalogueError when the catalogue does not hold it.
    """
    return row_of(code).client


def limit_value(limit: str) -> object:
    """
    Value of a limit that a row names: the standard one, or that of the edition offered first.

    Raises
    ------
    AttributeError or ImportError when there is no such limit.
    """
    holder, _, name = limit.rpartition(":") if ":" in limit else limit.rpartition(".")
    if holder == "limits":
        return getattr(STANDARD_LIMITS, name)
    if holder == "edition":
        return getattr(METHOD_EDITIONS[DEFAULT_METHOD_CODE], name)
    inside = holder.partition(".")[0] in ("particles", "batches")
    return getattr(import_module(holder if inside else f"particles.distribution.{holder}"), name)
