"""
Sand, silt and clay that somebody else determined: a list of rows, and what is wrong with it.

Nothing is ever scaled to 100, sorted or put right: a finding says what to look at, and a person asks for the figures.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Any

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.catalogue import finding
from particles.distribution.texture.systems import TextureSystem, texture_of
from particles.distribution.triple import SandSiltClay
from particles.distribution.without_run.printed import Printed
from particles.distribution.without_run.slipped import rounding_of, slipped_findings, total_of, wrong_sums

SUM_STOP_PCT = (98.0, 102.0)
"""Outside it no rounding and no slip of a digit explains a sum. *Common practice*. [%]"""
WHOLE_PCT = Decimal(100)


@dataclass(frozen=True, slots=True)
class ImportedRow:
    """One sample as its list has it."""

    name: str
    parts: SandSiltClay[Printed]
    profile: str = ""
    """Place whose depths belong together; '' for a sample by itself."""
    top_cm: float | None = None
    bottom_cm: float | None = None
    texture_class: str = ""
    """Class that the list gives; '' for none."""

    @property
    def percents(self) -> SandSiltClay[float]:
        """Sand, silt and clay. [%]"""
        return SandSiltClay(*(float(part.value) for part in self.parts))


@dataclass(frozen=True, slots=True)
class RowFinding:
    """A finding and the row it is about, the first being 0; None for one about the whole list."""

    row: int | None
    finding: Finding


def imported_findings(
    rows: Sequence[ImportedRow], system: TextureSystem | None = None
) -> tuple[RowFinding, ...]:
    """
    Everything found on a list, row by row.

    Parameters
    ----------
    system : whose classes the list gives; None when it gives none.
    """
    found = [
        RowFinding(k, each) for k, row in enumerate(rows) for each in imported_fractions_findings(row.parts)
    ]
    found += [RowFinding(k, each) for k, each in slipped_findings([row.parts for row in rows])]
    found += _depths(rows)
    found += _twins(rows)
    if system is not None:
        found += _classes(rows, system)
    return tuple(sorted(found, key=lambda each: -1 if each.row is None else each.row))


def imported_fractions_findings(parts: SandSiltClay[Printed]) -> list[Finding]:
    """
    imported_sum, imported_out_of_range: whether parts can be those of one soil.

    The tolerance of the sum follows from the digits printed: half a step of each part. Beyond it, but within
    `SUM_STOP_PCT`, something was typed or rounded otherwise than the digits say.
    """
    found: list[Finding] = []
    if wrong_sums([parts]):
        total, rounding = total_of(parts), rounding_of(parts)
        low, high = SUM_STOP_PCT
        found.append(
            finding(
                "imported_sum",
                severity=Severity.WARN if low <= total <= high else Severity.STOP,
                number=float(total),
                difference_pct=float(total - WHOLE_PCT),
                rounding_pct=float(rounding),
            )
        )
    return found + [
        finding("imported_out_of_range", number=float(part.value), part=name)
        for name, part in parts._asdict().items()
        if not 0 <= part.value <= WHOLE_PCT
    ]


def _depths(rows: Sequence[ImportedRow]) -> Iterator[RowFinding]:
    """Depths upside down in a row, and rows of a profile out of order, overlapping or with a gap."""
    for k, row in enumerate(rows):
        if row.top_cm is not None and row.bottom_cm is not None and row.top_cm >= row.bottom_cm:
            values: dict[str, Any] = {"top_cm": row.top_cm, "bottom_cm": row.bottom_cm}
            yield RowFinding(
                k, finding("imported_depth", variant="upside_down", severity=Severity.STOP, **values)
            )
    for (_, above), (k, below) in pairwise(enumerate(rows)):
        if not below.profile or above.profile != below.profile:
            continue
        if None in (above.top_cm, above.bottom_cm, below.top_cm, below.bottom_cm):
            continue
        variant = _step(above, below)
        if variant:
            values = {
                "above_top_cm": above.top_cm,
                "above_bottom_cm": above.bottom_cm,
                "top_cm": below.top_cm,
                "bottom_cm": below.bottom_cm,
            }
            yield RowFinding(k, finding("imported_depth", variant=variant, severity=Severity.WARN, **values))


def _step(above: ImportedRow, below: ImportedRow) -> str:
    assert above.top_cm is not None
    assert above.bottom_cm is not None
    assert below.top_cm is not None
    if below.top_cm < above.top_cm:
        return "order"
    if below.top_cm == above.bottom_cm:
        return ""
    return "overlap" if below.top_cm < above.bottom_cm else "gap"


def _twins(rows: Sequence[ImportedRow]) -> Iterator[RowFinding]:
    """Two rows of one name and depth, and neighbours whose figures agree to the last decimal."""
    seen: dict[tuple[object, ...], int] = {}
    for k, row in enumerate(rows):
        who = (row.name.strip().casefold(), row.profile.strip().casefold(), row.top_cm, row.bottom_cm)
        if who in seen:
            yield RowFinding(
                k,
                finding(
                    "imported_twin",
                    severity=Severity.STOP,
                    variant="name",
                    first=seen[who] + 1,
                    name=row.name,
                ),
            )
        seen.setdefault(who, k)
    for (j, one), (k, other) in pairwise(enumerate(rows)):
        same = [part.value for part in one.parts] == [part.value for part in other.parts]
        if same and all(part.step < 1 for part in other.parts):
            yield RowFinding(
                k,
                finding(
                    "imported_twin", severity=Severity.WARN, variant="figures", first=j + 1, name=one.name
                ),
            )


def _classes(rows: Sequence[ImportedRow], system: TextureSystem) -> Iterator[RowFinding]:
    """Classes of the list that are not those of its figures; a row whose sum is wrong has none."""
    if not system.confirmed:
        yield RowFinding(None, finding("system_not_confirmed", system=system.title))
        return
    wrong = wrong_sums([row.parts for row in rows])
    for k, row in enumerate(rows):
        if not row.texture_class or k in wrong or not all(0.0 <= part <= 100.0 for part in row.percents):
            continue
        own = texture_of(system, *row.percents)
        if own.name.casefold() != row.texture_class.strip().casefold():
            yield RowFinding(
                k,
                finding(
                    "imported_class",
                    variant="on_the_line" if own.on_the_line else "inside",
                    given=row.texture_class,
                    own=own.name,
                    system=system.title,
                ),
            )
