"""Reads what a worked example expects out of what the core computes."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from particles.bench_sheet.read import RunSheet, read_bench_sheet
from particles.bench_sheet.without_run import PipetteSheet, SieveSheet
from particles.distribution import (
    SizeDistribution,
    compute_distribution,
    grading,
    usda_class,
)
from particles.distribution.curve.reading_off import joined_curve
from particles.distribution.inputs.portion import moisture_pct
from particles.distribution.settling.hydrometer import above_zero, density_factor
from particles.distribution.settling.pipette import suspended_g, suspended_pct
from particles.distribution.settling.stokes import settling_paths, settling_velocity_cm_s
from particles.distribution.sieves.gravel import of_whole_sample_pct
from particles.distribution.sieves.stack import percent_passing, scaled_to_fines


def stokes_constant(temperature_c: float, particle_density_g_cm3: float) -> float:
    """K of D[mm] = K sqrt(L[cm] / t[min]) in water, as tables print it: a grain's way of 1 cm in 1 min."""
    (path,) = settling_paths([60.0], [temperature_c], 0.0)
    return path.diameter_um(1.0, particle_density_g_cm3) / 1000.0


FOLDER = Path(__file__).parents[2] / "fixtures" / "worked_examples"
FUNCTIONS: dict[str, Callable[..., float]] = {
    "moisture_pct": moisture_pct,
    "settling_velocity_cm_s": settling_velocity_cm_s,
    "stokes_constant": stokes_constant,
}


def examples() -> list[dict[str, Any]]:
    """Every example, with its bench sheet read from its own file."""
    found = [json.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.json"))]
    for example in found:
        if example["sheet"]:
            example["sheet"] = json.loads((FOLDER / example["sheet"]).read_text(encoding="utf-8"))
    return found


def quantity(sheet_data: dict[str, Any], what: str) -> list[Any]:
    """The computed counterpart of one published row, as a list."""
    sheet = read_bench_sheet(sheet_data)
    if isinstance(sheet, RunSheet):
        return _of_run(sheet, compute_distribution(sheet.record, sheet.method, draws=0), what)
    if isinstance(sheet, SieveSheet):
        return _of_sieves(sheet, what)
    assert isinstance(sheet, PipetteSheet)
    return _of_pipette(sheet, what)


def _of_run(sheet: RunSheet, answer: SizeDistribution, what: str) -> list[Any]:
    scale, points = sheet.record.hydrometer.scale, answer.points
    named = {each.name: each.value_pct for each in answer.named_readings}
    rule, _, name = what.partition(":")
    if rule == "named":
        return [named[name]]
    if rule == "rest_of":
        return [100.0 - named[name]]
    if rule == "above_clay":
        return [named[name] - next(v for n, v in named.items() if n.startswith("clay at"))]
    if what == "class_of_named":
        sand, silt, clay = (
            next(v for n, v in named.items() if n.startswith(part))
            for part in ("sand by", "silt between", "clay")
        )
        return [usda_class(sand, silt, clay).name]
    if what == "stokes_constant":
        return [stokes_constant(sheet.record.readings[0].temperature_c, sheet.record.particle_density_g_cm3)]
    if what == "density_factor":
        return [density_factor(sheet.record.particle_density_g_cm3)]
    if what == "percent_of_whole_sample":
        return [of_whole_sample_pct(p.percent_finer, sheet.record.gravel_pct or 0.0) for p in points]
    by_point: dict[str, list[Any]] = {
        "corrected_reading": [above_zero(scale, p.reading) - p.correction_graduations for p in points],
        "added_correction": [-p.correction_graduations for p in points],
        "percent_finer": [p.percent_finer for p in points],
        "depth_cm": [p.effective_depth_cm for p in points],
        "diameter_mm": [p.diameter_um / 1000.0 for p in points],
    }
    return by_point[what]


def _of_sieves(sheet: SieveSheet, what: str) -> list[Any]:
    test = sheet.test
    assert test.started_with_g is not None
    sieve = percent_passing(test.sieves, test.started_with_g)
    passing = {point.diameter_um: point.percent_finer for point in sieve}
    if what == "percent_passing":
        return list(passing.values())
    if what == "percent_retained":
        return [100.0 - percent for percent in passing.values()]
    if what.startswith("between_sieves:"):
        coarse, fine = what.removeprefix("between_sieves:").split("-")
        top = 100.0 if coarse == "inf" else passing[float(coarse)]
        return [top - (0.0 if fine == "0" else passing[float(fine)])]
    if what == "combined_percent":
        assert test.fines_split_um is not None
        return [p.percent_finer for p in scaled_to_fines(test.hydrometer, sieve, test.fines_split_um)]
    read = grading(joined_curve(sieve, ()))
    if what.endswith("_mm"):
        return [getattr(read, what.replace("_mm", "_um")) / 1000.0]
    return [getattr(read, what)]


def _of_pipette(sheet: PipetteSheet, what: str) -> list[Any]:
    percents = {a.name: suspended_pct(a, sheet.volume_ml, sheet.oven_dry_mass_g) for a in sheet.aliquots}
    fine, clay = percents["silt and clay"], percents["clay"]
    return [
        {
            "oven_dry_mass_g": sheet.oven_dry_mass_g,
            **{f"suspended_g:{a.name}": suspended_g(a, sheet.volume_ml) for a in sheet.aliquots},
            "fraction:clay": clay,
            "fraction:silt": fine - clay,
            "fraction:sand": 100.0 - fine,
        }[what]
    ]
