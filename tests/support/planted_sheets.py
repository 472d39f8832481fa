"""Sheets without a hydrometer run, each spoiled in one way; all figures are invented."""

from __future__ import annotations

from dataclasses import replace

from particles.distribution import CurvePoint, Finding, SandSiltClay, SieveMass, texture_system
from particles.distribution.settling.pipette import Aliquot
from particles.distribution.without_run.imported import ImportedRow, RowFinding, imported_findings
from particles.distribution.without_run.moisture_dishes import dish_findings
from particles.distribution.without_run.pipette_test import PipetteResult, pipette_test
from particles.distribution.without_run.printed import Printed
from particles.distribution.without_run.sieve_test import SieveTest, sieve_test

WASHED_SAND = SieveTest(
    started_with_g=100.0,
    washed_dry_mass_g=60.0,
    sieves=(SieveMass(250.0, 30.0), SieveMass(75.0, 29.0)),
    pan_g=1.0,
)
"""A sand of which 40 g of fines were washed away before sieving; nothing is wrong with it."""
WITH_HYDROMETER = replace(
    WASHED_SAND,
    fines_split_um=75.0,
    hydrometer=tuple(
        CurvePoint(um, percent, "hydrometer")
        for um, percent in ((70.0, 99.0), (40.0, 80.0), (20.0, 60.0), (5.0, 40.0), (2.0, 30.0))
    ),
)
"""The same, with ready percents of its fines that meet the split."""
FINE, CLAY = Aliquot("silt and clay", 25.0, 0.300), Aliquot("clay", 25.0, 0.100)
"""Of 20 g in 1000 mL: 60 % silt and clay, 20 % clay."""


def hydrometer(test: SieveTest, **percents: float) -> SieveTest:
    """The test with other percents of the fines, by diameter: um20=35."""
    changed = {float(name.removeprefix("um")): percent for name, percent in percents.items()}
    points = (replace(p, percent_finer=changed.get(p.diameter_um, p.percent_finer)) for p in test.hydrometer)
    return replace(test, hydrometer=tuple(points))


def passing(*percents: float) -> SieveTest:
    """A stack given in percent, of as many sieves."""
    openings = (2000.0, 1000.0, 500.0, 250.0, 125.0, 63.0)
    return SieveTest(
        passing=tuple(CurvePoint(um, p, "sieve") for um, p in zip(openings, percents, strict=False))
    )


def drawn(*aliquots: Aliquot, portion_g: float = 20.0) -> PipetteResult:
    """The result of aliquots out of 1000 mL without dispersant."""
    return pipette_test(aliquots, oven_dry_mass_g=portion_g, volume_ml=1000.0, dispersant_g_l=0.0)


def row(sand: str, silt: str, clay: str, name: str = "", **told: object) -> ImportedRow:
    """A row of a list, named by its figures unless given a name."""
    parts = SandSiltClay(Printed.of(sand), Printed.of(silt), Printed.of(clay))
    return replace(ImportedRow(name or f"{sand} {silt} {clay}", parts), **told)  # type: ignore[arg-type]


SOUND = tuple(
    row(*parts)
    for parts in (
        ("61", "24", "15"),
        ("43", "36", "21"),
        ("12", "30", "58"),
        ("28", "44", "28"),
        ("70", "21", "9"),
        ("35", "28", "37"),
    )
)
"""A list whose rows all add up to 100."""


def shifted(
    column: str, first: int, last: int, rows: tuple[ImportedRow, ...] = SOUND
) -> tuple[ImportedRow, ...]:
    """The list with one column moved a row down from `first` on, up to `last`, whose own value is lost."""
    found = list(rows)
    for k in range(first + 1, last + 1):
        moved = getattr(rows[k - 1].parts, column)
        found[k] = replace(rows[k], parts=rows[k].parts._replace(**{column: moved}))
    return tuple(found)


def shifted_up(column: str, first: int, last: int) -> tuple[ImportedRow, ...]:
    """The list with one column moved a row up from `first + 1` to `last`."""
    found = list(SOUND)
    for k in range(first, last):
        moved = getattr(SOUND[k + 1].parts, column)
        found[k] = replace(SOUND[k], parts=SOUND[k].parts._replace(**{column: moved}))
    return tuple(found)


def exchanged(column: str, first: int) -> tuple[ImportedRow, ...]:
    """The list with one column of two neighbours exchanged."""
    found = list(SOUND)
    for k, other in ((first, first + 1), (first + 1, first)):
        found[k] = replace(
            SOUND[k], parts=SOUND[k].parts._replace(**{column: getattr(SOUND[other].parts, column)})
        )
    return tuple(found)


def profile(*depths: tuple[float, float]) -> tuple[ImportedRow, ...]:
    """One place in several depths."""
    return tuple(
        row("40", "40", "20", f"P1-{k}", profile="P1", top_cm=top, bottom_cm=bottom)
        for k, (top, bottom) in enumerate(depths)
    )


def sheet_findings() -> list[Finding]:
    """Everything that sheets without a run can raise."""
    tests = (
        replace(WASHED_SAND, started_with_g=None, washed_dry_mass_g=None),
        replace(WASHED_SAND, washed_dry_mass_g=None),
        replace(WASHED_SAND, pan_g=41.0),
        passing(90.0, 70.0, 75.0),
        WITH_HYDROMETER,
        hydrometer(WITH_HYDROMETER, um5=60.5, um2=90.0),
        hydrometer(WITH_HYDROMETER, um70=10.0),
    )
    found = [each for test in tests for each in sieve_test(test).findings]
    for aliquots in (
        (FINE, CLAY, replace(CLAY, residue_g=0.3)),
        (FINE, CLAY, replace(CLAY, residue_g=0.105)),
        (CLAY,),
    ):
        found += drawn(*aliquots).findings
    found += dish_findings([2.0, 2.6])
    lists: list[tuple[RowFinding, ...]] = [
        imported_findings(rows)
        for rows in (
            (row("60", "45", "-5"), row("50", "30", "10"), row("40.0", "40.0", "19.0")),
            shifted("clay", 1, 5),
            shifted_up("silt", 0, 4),
            exchanged("sand", 1),
            profile((10.0, 0.0)),
            profile((0.0, 10.0), (5.0, 20.0)),
            profile((0.0, 10.0), (20.0, 30.0)),
            profile((10.0, 20.0), (0.0, 10.0)),
            (row("40.1", "39.9", "20.0", "A"), row("40.1", "39.9", "20.0", "B"), row("1", "1", "98", "A")),
        )
    ]
    classed = (
        row("40", "40", "20", "A", texture_class="clay"),
        row("43", "30", "27", "B", texture_class="loam"),
    )
    lists.append(imported_findings(classed, texture_system("USDA")))
    lists.append(imported_findings(classed, texture_system("UK")))
    return found + [each.finding for rows in lists for each in rows]
