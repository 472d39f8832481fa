"""
A bench sheet, as a dict, read into what the arithmetic takes.

Our own format, written down in `form.py` and described by schema.json beside it. Every fault is listed with its
place, such as readings/3/temperature_c, before anything is computed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from particles.bench_sheet import form
from particles.bench_sheet.checked import BenchSheetError, checked_sheet, refuse_bad_text
from particles.bench_sheet.faults import Fault, run_faults, scale_ends
from particles.bench_sheet.without_run import (
    PipetteSheet,
    ResultsSheet,
    SieveSheet,
    dishes_pct,
    moisture_of,
    read_pipette,
    read_results,
    read_sieves,
    stack_of,
)
from particles.distribution import (
    DEFAULT_METHOD_CODE,
    METHOD_EDITIONS,
    ClayExtrapolation,
    DepthLine,
    DepthTable,
    Finding,
    Hydrometer,
    HydrometerScale,
    Interpolation,
    MethodEdition,
    Pycnometer,
    ReadingPoint,
    RunRecord,
    Sieving,
    TemperatureLine,
    effective_depth_line,
)
from particles.distribution.plain import Plain
from particles.distribution.without_run.moisture_dishes import dish_findings

SAND_SIEVE_TOLERANCE = 1.06
"""An opening up to this ratio above another sand limit counts as its sieve, as 53 does for 50 µm."""


@dataclass(frozen=True, slots=True)
class RunSheet:
    """One cylinder and the method to compute it by."""

    title: str
    source: str
    record: RunRecord
    method: MethodEdition
    printed: form.PrintedResults | None
    """What the source printed."""
    findings: tuple[Finding, ...]
    """Of the sheet itself, beside those of the run."""


BenchSheet = RunSheet | SieveSheet | PipetteSheet | ResultsSheet


def read_bench_sheet(data: object) -> BenchSheet:
    """The sheet as frozen values; BenchSheetError lists every fault of a bad one."""
    if not isinstance(data, Mapping):
        raise BenchSheetError([Fault("", "must be a JSON object")])
    refuse_bad_text(data)
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise BenchSheetError([Fault("kind", f"must be one of {', '.join(KINDS)}; it is {kind!r}")])
    return KINDS[kind](dict(data))


def _run(data: Plain) -> RunSheet:
    sheet = checked_sheet(data, form.Run, run_faults)
    portion, correction, gravel = sheet.portion, sheet.correction, sheet.gravel
    line = correction.temperature_line
    record = RunRecord(
        label=sheet.title,
        hydrometer=_hydrometer(sheet.hydrometer),
        readings=tuple(_reading(each, correction.composite_g_l) for each in sheet.readings),
        correction=correction.rule,
        oven_dry_mass_g=portion.oven_dry_mass_g,
        air_dry_mass_g=portion.air_dry_mass_g,
        moisture_pct=moisture_of(portion),
        particle_density_g_cm3=portion.particle_density_g_cm3,
        particle_density_measured=portion.particle_density_measured,
        particle_density_document=portion.particle_density_document,
        particle_density_weighings=_pycnometer(portion.particle_density_weighings),
        gravel_pct=portion.gravel_pct,
        dispersant_g_l=sheet.dispersant_g_l,
        volume_ml=sheet.volume_ml,
        zero_correction_graduations=correction.zero_g_l or 0.0,
        temperature_correction=TemperatureLine(line.intercept_g_l, line.slope_g_l_per_c) if line else None,
        sieving=_sieving(sheet.sieving) if sheet.sieving else None,
        gravel_sieves=stack_of(gravel.sieves) if gravel else (),
        whole_sample_dry_mass_g=gravel.whole_sample_dry_mass_g if gravel else None,
    )
    return RunSheet(
        sheet.title,
        sheet.source,
        record,
        _method(sheet),
        sheet.printed,
        tuple(dish_findings(dishes_pct(portion))),
    )


def _pycnometer(given: form.Pycnometer | None) -> Pycnometer | None:
    if given is None:
        return None
    return Pycnometer(given.dry_soil_g, given.with_water_g, given.with_soil_and_water_g, given.water_c)


def _method(sheet: form.Run) -> MethodEdition:
    edition = with_rules(
        at_limits(METHOD_EDITIONS[sheet.method_code or DEFAULT_METHOD_CODE], sheet.size_limits_um),
        sheet.interpolation,
        sheet.clay_extrapolation,
    )
    also, confirmed = sheet.also_systems, sheet.confirmed_systems
    return replace(
        edition,
        also_systems=edition.also_systems if also is None else also,
        confirmed_systems=edition.confirmed_systems if confirmed is None else confirmed,
    )


def with_rules(
    edition: MethodEdition, interpolation: Interpolation | None, clay: ClayExtrapolation | None
) -> MethodEdition:
    """The edition with a sheet's rules for reading off, which its code then names when they are not its own."""
    interpolation, clay = interpolation or edition.interpolation, clay or edition.clay_extrapolation
    code = edition.code
    if interpolation is not edition.interpolation:
        code += f", {interpolation}"
    if clay is not edition.clay_extrapolation:
        code += f", clay by {clay}"
    return replace(edition, code=code, interpolation=interpolation, clay_extrapolation=clay)


def at_limits(edition: MethodEdition, limits: form.SizeLimits | None) -> MethodEdition:
    """The edition with other size limits, which its code then names; unchanged when they are its own."""
    if limits is None or (limits.clay, limits.sand) == (edition.clay_limit_um, edition.sand_limit_um):
        return edition
    return replace(
        edition,
        code=f"{edition.code} at {limits.clay:g} and {limits.sand:g} µm",
        clay_limit_um=limits.clay,
        sand_limit_um=limits.sand,
        sand_sieve_openings_um=(limits.sand, limits.sand * SAND_SIEVE_TOLERANCE),
    )


def _depth(given: form.Depth, scale: HydrometerScale) -> DepthLine | DepthTable:
    match given:
        case form.DepthLine():
            return DepthLine(given.intercept_cm, given.slope_cm_per_unit)
        case form.DepthTable():
            return DepthTable(given.readings, given.depths_cm)
    low, high = ((mark.reading, mark.distance_cm) for mark in given.distances_to_bulb_top)
    return effective_depth_line(
        scale,
        bulb_volume_cm3=given.bulb_volume_cm3,
        cylinder_area_cm2=given.cylinder_area_cm2,
        bulb_length_cm=given.bulb_length_cm,
        distances_to_bulb_top_cm=(low, high),
    )


def _hydrometer(given: form.Hydrometer) -> Hydrometer:
    low, high = scale_ends(given)
    return Hydrometer(
        identity=given.identity,
        scale=given.scale,
        depth=_depth(given.depth, given.scale),
        meniscus_correction=given.meniscus_correction,
        insertion_displacement_cm=given.insertion_displacement_cm,
        scale_minimum=low,
        scale_maximum=high,
        scale_corrections=tuple((mark.reading, mark.correction) for mark in given.scale_corrections),
    )


def _reading(given: form.Reading, composite_g_l: float | None) -> ReadingPoint:
    own_g_l = given.composite_correction_g_l
    return ReadingPoint(
        elapsed_s=given.elapsed_s,
        temperature_c=_celsius(given.temperature_c, given.temperature_f),
        state=given.state,
        reading=given.reading,
        blank_reading=given.blank_reading,
        blank_temperature_c=_celsius(given.blank_temperature_c, given.blank_temperature_f),
        blank_gap_s=given.blank_gap_s,
        blank_number=given.blank_number,
        composite_correction_graduations=composite_g_l if own_g_l is None else own_g_l,
    )


def _celsius(given_c: float | None, given_f: float | None) -> float | None:
    """A temperature in °C, whichever thermometer it comes from; rounded so that 68 °F is 20."""
    return given_c if given_f is None else round((given_f - 32.0) / 1.8, 9)


def _sieving(given: form.Sieving) -> Sieving:
    return Sieving(
        given.washed_dry_mass_g, stack_of(given.sieves), given.pan_g, given.portion_oven_dry_mass_g
    )


KINDS: Mapping[str, Callable[[Plain], BenchSheet]] = MappingProxyType(
    {"run": _run, "sieves": read_sieves, "pipette": read_pipette, "results": read_results}
)
"""Kind of sheet -> its reader."""
