"""
Computes one bench sheet and prints the figures, without a database.

Exit status: 0 with figures (certified or not is said in the output), 2 when the sheet cannot be computed.
"""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from particles.bench_sheet.faults import Fault
from particles.bench_sheet.read import BenchSheetError, PipetteSheet, RunSheet, SieveSheet, read_bench_sheet
from particles.distribution import (
    METHOD_EDITIONS,
    CurvePoint,
    DistributionError,
    Sieving,
    SizeDistribution,
    compute_distribution,
    detection_of,
    explain,
    grading,
    to_plain,
)
from particles.distribution.curve.reading_off import joined_curve
from particles.distribution.findings.sieves import sieving_findings
from particles.distribution.settling.pipette import suspended_g, suspended_pct
from particles.distribution.sieves.stack import percent_passing, scaled_to_fines

Figures = dict[str, Any]


def load_sheet(path: Path) -> object:
    """The JSON of a file; BenchSheetError when it is not there, not JSON, or names a key twice."""
    try:
        text = path.read_text(encoding="utf-8")
        return json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_without_twins)
    except OSError as error:
        raise BenchSheetError([Fault("", f"cannot be opened: {error.strerror}")]) from error
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        raise BenchSheetError([Fault("", f"is not JSON: {error}")]) from error


def _refuse_constant(name: str) -> float:
    raise BenchSheetError([Fault("", f"holds {name}, which is no number")])


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    twins = sorted({name for name in names if names.count(name) > 1})
    if twins:
        raise BenchSheetError([Fault(name, "is given twice") for name in twins])
    return dict(pairs)


def figures_of(
    data: object, *, method_code: str | None = None, draws: int | None = None, explained: bool = False
) -> Figures:
    """
    Figures of a sheet as the command prints them, ready for JSON.

    BenchSheetError or DistributionError when nothing can be computed.
    """
    if method_code is not None and isinstance(data, dict):
        data = {**data, "method_code": method_code}
    sheet = read_bench_sheet(data)
    if isinstance(sheet, RunSheet):
        return _run_figures(sheet, draws, explained)
    return _sieve_figures(sheet) if isinstance(sheet, SieveSheet) else _pipette_figures(sheet)


def _run_figures(sheet: RunSheet, draws: int | None, explained: bool) -> Figures:
    distribution = compute_distribution(sheet.record, sheet.method, draws=draws)
    explanation = {"explanation": asdict(explain(sheet.record, sheet.method))} if explained else {}
    return {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": distribution.certifiable,
        "grading": asdict(grading(distribution.curve, sheet.method.interpolation)),
        "distribution": to_plain(distribution),
        "detection": _detection(distribution),
        **explanation,
    }


def _detection(distribution: SizeDistribution) -> Figures:
    """Limits of each fraction that has an uncertainty, by name: what is printed as less than which percent."""
    estimates = distribution.fractions.estimates._asdict() if distribution.fractions else {}
    found = {name: detection_of(part) for name, part in estimates.items()}
    return {name: asdict(each) for name, each in found.items() if each is not None}


def _sieve_figures(sheet: SieveSheet) -> Figures:
    total_g = sum(sieve.retained_g for sieve in sheet.sieves) + sheet.pan_g
    basis_g = total_g if sheet.started_with_g is None else sheet.started_with_g
    findings = sieving_findings(Sieving(basis_g, sheet.sieves, sheet.pan_g), None)
    sieve = percent_passing(sheet.sieves, basis_g)
    fines: tuple[CurvePoint, ...] = ()
    if sheet.fines_split_um is not None:
        fines = scaled_to_fines(sheet.hydrometer, sieve, sheet.fines_split_um)
    curve = joined_curve(sieve, fines)
    return {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": False,
        "basis_g": basis_g,
        "grading": asdict(grading(curve)),
        "curve": [asdict(point) for point in curve],
        "findings": [asdict(finding) for finding in findings],
    }


def _pipette_figures(sheet: PipetteSheet) -> Figures:
    aliquots = [
        {
            "name": aliquot.name,
            "suspended_g": suspended_g(aliquot, sheet.volume_ml, sheet.dispersant_g_l),
            "percent": suspended_pct(aliquot, sheet.volume_ml, sheet.oven_dry_mass_g, sheet.dispersant_g_l),
        }
        for aliquot in sheet.aliquots
    ]
    by_name = {row["name"]: float(str(row["percent"])) for row in aliquots}
    figures: Figures = {
        "title": sheet.title,
        "source": sheet.source,
        "certified_result_allowed": False,
        "oven_dry_mass_g": sheet.oven_dry_mass_g,
        "aliquots": aliquots,
    }
    if {"silt and clay", "clay"} <= set(by_name):
        figures["fractions_pct"] = {
            "sand": 100.0 - by_name["silt and clay"],
            "silt": by_name["silt and clay"] - by_name["clay"],
            "clay": by_name["clay"],
        }
    return figures


def as_table(figures: Figures) -> str:
    """The figures as lines to read."""
    lines = [figures["title"]]
    if figures["source"]:
        lines.append(f"Source: {figures['source']}")
    if "distribution" in figures:
        lines += _distribution_lines(figures["distribution"], figures["detection"])
    else:
        lines += _curve_lines(figures.get("curve", [])) + _pipette_lines(figures)
        lines += _finding_lines(figures.get("findings", []))
    if "grading" in figures:
        lines += _grading_lines(figures["grading"])
    if "explanation" in figures:
        lines += _explanation_lines(figures["explanation"])
    lines.append(f"Certified result allowed: {'yes' if figures['certified_result_allowed'] else 'no'}")
    return "\n".join(lines)


def _distribution_lines(plain: Figures, detection: Figures) -> list[str]:
    lines = [f"Method: {plain['method_code']}   corrected by: {plain['correction']}", ""]
    lines.append("  time s      reading   in suspension g/L   diameter µm   finer %")
    lines += [
        f"{p['elapsed_s']:8g} {p['reading']:12g} {p['concentration_g_l']:19.2f} "
        f"{p['diameter_um']:13.2f} {p['percent_finer_curve']:9.2f}"
        for p in plain["points"]
    ]
    sieve = [point for point in plain["curve"] if point["source"] == "sieve"]
    lines += [*_curve_lines(sieve), *_fraction_lines(plain, detection)]
    if plain["whole_sample_curve"]:
        lines += ["", "Whole sample, gravel included:", *_curve_lines(plain["whole_sample_curve"])[1:]]
    lines += _finding_lines(plain["findings"])
    return lines


def _fraction_lines(plain: Figures, detection: Figures) -> Iterator[str]:
    yield ""
    for named in plain["named_readings"]:
        finer = "" if named["diameter_um"] is None else f"   (finer than {named['diameter_um']:.1f} µm)"
        yield f"{named['name']}: {named['value_pct']:.2f} %{finer}"
    fractions, texture = plain["fractions"], plain["texture"]
    for name in ("sand", "silt", "clay") if fractions else ():
        part = fractions[name]
        between = (
            "" if part["low_pct"] is None else f"   95 %: {part['low_pct']:.1f} to {part['high_pct']:.1f}"
        )
        limits = detection.get(name, {})
        below = (
            f"   below detection, certified as less than {limits['detection_limit_pct']:.1f} rounded up"
            if limits.get("below_detection")
            else ""
        )
        yield f"{name}: {part['value_pct']:6.2f} %{between}{below}"
    if texture:
        chances = ", ".join(f"{name} {100 * chance:.0f} %" for name, chance in texture["chances"])
        line = " (on the line)" if texture["on_the_line"] else ""
        likely = f"   chances: {chances}" if chances else ""
        finer = f", {texture['subclass']}" if texture["subclass"] else ""
        yield f"class ({texture['system']}): {texture['name']}{finer}{line}{likely}"
    for other in plain["other_textures"]:
        yield f"class ({other['system']}): {other['name']}{' (on the line)' if other['on_the_line'] else ''}"
    for part in plain["sand_fractions"]:
        yield f"{part['name']}, {part['coarse_um']:g} to {part['fine_um']:g} µm: {part['percent']:.2f} %"


def _curve_lines(curve: list[Figures]) -> list[str]:
    rows = [f"{p['diameter_um']:14.2f} {p['percent_finer']:10.2f}   {p['source']}" for p in curve]
    return ["", "   diameter µm    finer %   by", *rows] if rows else []


def _pipette_lines(figures: Figures) -> list[str]:
    rows = [
        f"{a['name']}: {a['suspended_g']:.2f} g, {a['percent']:.2f} %" for a in figures.get("aliquots", [])
    ]
    return rows + [f"{name}: {part:.2f} %" for name, part in figures.get("fractions_pct", {}).items()]


def _finding_lines(findings: list[Figures]) -> list[str]:
    rows = [f"{f['severity'].upper():5} {f['code']}: {f['sentence']} {f['next_step']}" for f in findings]
    return ["", *rows, ""] if rows else [""]


def _grading_lines(grading_of: Figures) -> list[str]:
    names = {f"d{percent}_um": f"D{percent}" for percent in (10, 16, 30, 50, 60, 84, 90)}
    sizes = [
        f"{name} {'not determined' if grading_of[key] is None else f'{grading_of[key]:.4g} µm'}"
        for key, name in names.items()
    ]
    ratios = [
        f"{name} {'not determined' if grading_of[key] is None else f'{grading_of[key]:.3g}'}"
        for key, name in {"uniformity": "Cu", "curvature": "Cc"}.items()
    ]
    return ["   ".join(sizes), "   ".join(ratios)]


def _explanation_lines(explanation: Figures) -> list[str]:
    head = "  time s       raw     scale     blank   warmth     other       net   factor       g/L   finer %"
    rows = [
        f"{r['elapsed_s']:8g} {r['raw']:9g} {r['scale_correction']:+9.3f} "
        f"{'-' if r['blank_reading'] is None else format(r['blank_reading'], 'g'):>9} "
        f"{r['blank_temperature_correction']:+8.3f} {r['other_correction']:9.3f} {r['net']:9.3f} "
        f"{r['factor']:8.4f} {r['concentration_g_l']:9.3f} {r['percent_finer']:9.2f}"
        for r in explanation["readings"]
    ]
    return ["", head, *rows, "", *(f"{e['step']}: {e['sentence']}" for e in explanation["effects"])]


class Command(BaseCommand):
    """Computes the bench sheet of a JSON file: manage.py size_distribution SHEET.json"""

    help = "Computes one bench sheet (JSON) and prints points, fractions, class and findings."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sheet", type=Path, help="bench sheet, see particles/bench_sheet/schema.json")
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
        parser.add_argument(
            "--method", choices=sorted(METHOD_EDITIONS), help="edition instead of the sheet's"
        )
        parser.add_argument("--explain", action="store_true", help="also print what each correction does")
        parser.add_argument("--draws", type=int, help="Monte Carlo draws; 0 for none")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            figures = figures_of(
                load_sheet(options["sheet"]),
                method_code=options["method"],
                draws=options["draws"],
                explained=options["explain"],
            )
        except BenchSheetError as error:
            raise CommandError("\n".join(str(fault) for fault in error.faults), returncode=2) from error
        except DistributionError as error:
            raise CommandError(str(error), returncode=2) from error
        if options["json"]:
            self.stdout.write(json.dumps(figures, ensure_ascii=False, indent=2, allow_nan=False))
        else:
            self.stdout.write(as_table(figures))
