"""A column that slipped by a row, or two values that changed places: seen where sums that fail come right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import groupby

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.triple import SandSiltClay
from particles.distribution.without_run.printed import Printed

Parts = SandSiltClay[Printed]
LEAST_ROWS = 2
"""So many rows in a row must come right together: one may by chance. *Common practice*."""


def adds_up(parts: Parts) -> bool:
    """Whether the parts total 100 within what their own rounding can do; exactly that much counts as rounding."""
    return abs(total_of(parts) - 100) <= rounding_of(parts)


def total_of(parts: Parts) -> Decimal:
    """Sum of the parts. [%]"""
    return sum((part.value for part in parts), Decimal(0))


def rounding_of(parts: Parts) -> Decimal:
    """How far the rounding that their digits show can have moved the sum. [percentage points]"""
    return sum((part.half_step for part in parts), Decimal(0))


def wrong_sums(rows: Sequence[Parts]) -> frozenset[int]:
    """Places of the rows that do not add up."""
    return frozenset(k for k, parts in enumerate(rows) if not adds_up(parts))


def slipped_findings(rows: Sequence[Parts]) -> Iterator[tuple[int, Finding]]:
    """(row, finding) of imported_exchanged and imported_slipped, each at its first row."""
    wrong = wrong_sums(rows)
    exchanged = set()
    for row, column in _exchanges(rows, wrong):
        exchanged |= {row, row + 1}
        yield row, finding("imported_exchanged", column=column, first=row + 1, second=row + 2)
    for column in SandSiltClay._fields:
        for shift, where in ((1, "below"), (-1, "above")):
            for first, last in _runs(rows, wrong - exchanged, column, shift):
                yield (
                    first,
                    finding(
                        "imported_slipped",
                        variant=where,
                        number=float(last - first + 1),
                        column=column,
                        first=first + 1,
                        last=last + 1,
                    ),
                )


def _exchanges(rows: Sequence[Parts], wrong: frozenset[int]) -> Iterator[tuple[int, str]]:
    """Neighbours that both fail, and both come right once one column of theirs changes places."""
    for k in range(len(rows) - 1):
        if not {k, k + 1} <= wrong:
            continue
        for column in SandSiltClay._fields:
            if adds_up(_with(rows, k, column, 1)) and adds_up(_with(rows, k + 1, column, -1)):
                yield k, column


def _runs(rows: Sequence[Parts], wrong: frozenset[int], column: str, shift: int) -> Iterator[tuple[int, int]]:
    """First and last of `LEAST_ROWS` and more failing rows that come right with the column's value of a neighbour."""
    fitting = [
        k for k in sorted(wrong) if 0 <= k + shift < len(rows) and adds_up(_with(rows, k, column, shift))
    ]
    for _, group in groupby(enumerate(fitting), key=lambda pair: pair[1] - pair[0]):
        places = [k for _, k in group]
        if len(places) >= LEAST_ROWS:
            yield places[0], places[-1]


def _with(rows: Sequence[Parts], row: int, column: str, shift: int) -> Parts:
    """A row with one column's value of the row so far below it."""
    return rows[row]._replace(**{column: getattr(rows[row + shift], column)})
