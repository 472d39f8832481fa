"""Sheets without a hydrometer run, read into what the arithmetic takes."""

from __future__ import annotations

from dataclasses import dataclass

from particles.bench_sheet import form
from particles.bench_sheet.checked import checked_sheet
from particles.bench_sheet.faults_without_run import pipette_faults, results_faults, sieve_faults
from particles.bench_sheet.forms_without_run import Pipette, Results, Sieves
from particles.distribution import (
    TEXTURE_SYSTEMS,
    CurvePoint,
    Finding,
    SandSiltClay,
    SieveMass,
    TextureSystem,
)
from particles.distribution.inputs.portion import moisture_pct
from particles.distribution.plain import Plain
from particles.distribution.settling.pipette import Aliquot
from particles.distribution.without_run.imported import ImportedRow
from particles.distribution.without_run.moisture_dishes import dish_findings, mean_moisture_pct
from particles.distribution.without_run.printed import Printed
from particles.distribution.without_run.sieve_test import SieveTest


@dataclass(frozen=True, slots=True)
class SieveSheet:
    """A stack of sieves, with or without ready hydrometer percentages of its fines."""

    title: str
    source: str
    test: SieveTest


@dataclass(frozen=True, slots=True)
class PipetteSheet:
    """A pipette test."""

    title: str
    source: str
    oven_dry_mass_g: float
    volume_ml: float
    dispersant_g_l: float
    aliquots: tuple[Aliquot, ...]
    printed: form.PrintedResults | None
    """What the source printed."""
    findings: tuple[Finding, ...]
    """Of the sheet itself, beside those of the test."""


@dataclass(frozen=True, slots=True)
class ResultsSheet:
    """A list of results that somebody else determined."""

    title: str
    source: str
    rows: tuple[ImportedRow, ...]
    system: TextureSystem | None
    """Whose classes it gives; None when it gives none."""


def read_sieves(data: Plain) -> SieveSheet:
    """The sheet of a stack; BenchSheetError lists every fault of a bad one."""
    sheet = checked_sheet(data, Sieves, sieve_faults)
    test = SieveTest(
        started_with_g=sheet.started_with_g,
        washed_dry_mass_g=sheet.washed_dry_mass_g,
        sieves=stack_of(sheet.sieves),
        pan_g=sheet.pan_g or 0.0,
        passing=tuple(CurvePoint(each.opening_um, each.percent, "sieve") for each in sheet.passing),
        fines_split_um=sheet.fines_split_um,
        hydrometer=tuple(
            CurvePoint(point.diameter_um, point.percent_of_fines, "hydrometer")
            for point in sheet.hydrometer_points
        ),
    )
    return SieveSheet(sheet.title, sheet.source, test)


def read_pipette(data: Plain) -> PipetteSheet:
    """The sheet of a pipette test; BenchSheetError lists every fault of a bad one."""
    sheet = checked_sheet(data, Pipette, pipette_faults)
    return PipetteSheet(
        title=sheet.title,
        source=sheet.source,
        oven_dry_mass_g=_oven_dry_g(sheet.portion),
        volume_ml=sheet.volume_ml,
        dispersant_g_l=sheet.dispersant_g_l,
        aliquots=tuple(
            Aliquot(each.name, each.volume_ml, each.dish_and_residue_g - each.dish_g)
            for each in sheet.aliquots
        ),
        printed=sheet.printed,
        findings=tuple(dish_findings(dishes_pct(sheet.portion))),
    )


def read_results(data: Plain) -> ResultsSheet:
    """A list of results; BenchSheetError lists every fault of a bad one."""
    sheet = checked_sheet(data, Results, results_faults)
    rows = tuple(
        ImportedRow(
            name=row.name,
            parts=SandSiltClay(Printed.of(row.sand), Printed.of(row.silt), Printed.of(row.clay)),
            profile=row.profile,
            top_cm=row.top_cm,
            bottom_cm=row.bottom_cm,
            texture_class=row.texture_class,
        )
        for row in sheet.rows
    )
    system = None if sheet.texture_system is None else TEXTURE_SYSTEMS[sheet.texture_system]
    return ResultsSheet(sheet.title, sheet.source, rows, system)


def stack_of(sieves: tuple[form.Sieve, ...]) -> tuple[SieveMass, ...]:
    """Sieves of a sheet as the arithmetic takes them."""
    return tuple(SieveMass(sieve.opening_um, sieve.retained_g) for sieve in sieves)


def dishes_pct(portion: form.Portion) -> list[float]:
    """Moisture of each dish, on oven-dry basis. [%]"""
    return [
        moisture_pct(dish.with_air_dry_g - dish.dish_g, dish.with_oven_dry_g - dish.dish_g)
        for dish in portion.moisture_dishes
    ]


def moisture_of(portion: form.Portion) -> float | None:
    """Moisture as given, or the mean of the dishes; None without either. [%]"""
    return mean_moisture_pct(dishes_pct(portion)) if portion.moisture_dishes else portion.moisture_pct


def _oven_dry_g(portion: form.Portion) -> float:
    if portion.oven_dry_mass_g is not None:
        return portion.oven_dry_mass_g
    moisture = moisture_of(portion)
    assert portion.air_dry_mass_g is not None, "a portion without a mass is a fault"
    assert moisture is not None, "a portion without a moisture is a fault"
    return portion.air_dry_mass_g / (1.0 + moisture / 100.0)
