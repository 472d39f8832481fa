"""The figures of a bench sheet, ready for JSON: computed, compared with what its source printed, and finite."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from math import isfinite
from typing import Any

from particles.bench_sheet import form
from particles.bench_sheet.checked import BenchSheetError
from particles.bench_sheet.faults import Fault
from particles.bench_sheet.read import RunSheet, read_bench_sheet
from particles.bench_sheet.without_run import PipetteSheet, ResultsSheet, SieveSheet
from particles.distribution import (
    Finding,
    SandSiltClay,
    SizeDistribution,
    compute_distribution,
    detection_of,
    explain,
    grading,
    to_plain,
)
from particles.distribution.without_run.imported import imported_findings
from particles.distribution.without_run.pipette_test import pipette_test
from particles.distribution.without_run.printed import Printed
from particles.distribution.without_run.sieve_test import sieve_test

Figures = dict[str, Any]


def figures_of(
    data: object, *, method_code: str | None = None, draws: int | None = None, explained: bool = False
) -> Figures:
    """
    Figures of a sheet as the command prints them, ready for JSON.

    BenchSheetError or DistributionError when nothing can be computed.
    """
    if method_code is not None and isinstance(data, dict):
        data = {**data, "method_code": method_code}
    figures = _of(read_bench_sheet(data), draws, explained)
    endless = [place for place, number in _numbers("", figures) if not isfinite(number)]
    if endless:
        what = f"gives no number for {endless[0]}: some figure of the sheet is far out of any range"
        raise BenchSheetError([Fault("", what)])
    return figures


def _of(
    sheet: RunSheet | SieveSheet | PipetteSheet | ResultsSheet, draws: int | None, explained: bool
) -> Figures:
    match sheet:
        case RunSheet():
            return _run_figures(sheet, draws, explained)
        case SieveSheet():
            return _sieve_figures(sheet)
        case PipetteSheet():
            return _pipette_figures(sheet)
    return _results_figures(sheet)


def _numbers(place: str, value: object) -> Iterator[tuple[str, float]]:
    if isinstance(value, Mapping):
        for name, item in value.items():
            yield from _numbers(f"{place}/{name}" if place else str(name), item)
    elif isinstance(value, list | tuple):
        for k, item in enumerate(value):
            yield from _numbers(f"{place}/{k}", item)
    elif isinstance(value, float):
        yield place, value


def _run_figures(sheet: RunSheet, draws: int | None, explained: bool) -> Figures:
    distribution = compute_distribution(sheet.record, sheet.method, draws=draws)
    explanation = {"explanation": asdict(explain(sheet.record, sheet.method))} if explained else {}
    percents = distribution.fractions.percents if distribution.fractions else None
    return {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": distribution.certifiable,
        "grading": asdict(grading(distribution.curve, sheet.method.interpolation)),
        "distribution": to_plain(distribution),
        "detection": _detection(distribution),
        "findings": _plain_findings(sheet.findings),
        "printed_by_source": _compared(sheet.printed, percents),
        **explanation,
    }


def _detection(distribution: SizeDistribution) -> Figures:
    """Limits of each fraction that has an uncertainty, by name: what is printed as less than which percent."""
    estimates = distribution.fractions.estimates._asdict() if distribution.fractions else {}
    found = {name: detection_of(part) for name, part in estimates.items()}
    return {name: asdict(each) for name, each in found.items() if each is not None}


def _plain_findings(findings: Iterable[Finding]) -> list[Figures]:
    return [asdict(each) for each in findings]


def _compared(printed: form.PrintedResults | None, percents: SandSiltClay[float] | None) -> list[Figures]:
    """What the source printed beside what comes out here, for every fraction of both."""
    if printed is None or percents is None:
        return []
    both = (
        (name, getattr(printed, name), computed)
        for name, computed in percents._asdict().items()
        if getattr(printed, name) is not None
    )
    return [
        {
            "name": name,
            "printed": text,
            "computed_pct": computed,
            "agrees": Printed.of(text).agrees_with(computed),
        }
        for name, text, computed in both
    ]


def _sieve_figures(sheet: SieveSheet) -> Figures:
    result = sieve_test(sheet.test)
    return {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": False,
        "basis_g": result.basis_g,
        "fines": None if result.fines is None else asdict(result.fines),
        "grading": asdict(grading(result.curve)),
        "curve": [asdict(point) for point in result.curve],
        "findings": _plain_findings(result.findings),
    }


def _pipette_figures(sheet: PipetteSheet) -> Figures:
    result = pipette_test(
        sheet.aliquots,
        oven_dry_mass_g=sheet.oven_dry_mass_g,
        volume_ml=sheet.volume_ml,
        dispersant_g_l=sheet.dispersant_g_l,
    )
    fractions = {} if result.fractions_pct is None else {"fractions_pct": result.fractions_pct._asdict()}
    return {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": False,
        "oven_dry_mass_g": sheet.oven_dry_mass_g,
        "aliquots": [asdict(each) for each in result.aliquots],
        **fractions,
        "findings": _plain_findings((*sheet.findings, *result.findings)),
        "printed_by_source": _compared(sheet.printed, result.fractions_pct),
    }


def _results_figures(sheet: ResultsSheet) -> Figures:
    return {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": False,
        "rows": [
            {"name": row.name, **{part: each.text for part, each in row.parts._asdict().items()}}
            for row in sheet.rows
        ],
        "findings": [
            {"row": None if each.row is None else each.row + 1, **asdict(each.finding)}
            for each in imported_findings(sheet.rows, sheet.system)
        ],
    }
