"""
A bench sheet, as a dict, read into what the arithmetic takes.

Our own format, written down in `form.py` and described by schema.json beside it. Every fault is listed with its
place, such as readings/3/temperature_c, before anything is computed.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from jsonschema import Draft202012Validator

from particles.bench_sheet import form
from particles.bench_sheet.faults import Fault, pipette_faults, run_faults, scale_ends, sieve_faults
from particles.distribution import (
    DEFAULT_METHOD_CODE,
    METHOD_EDITIONS,
    ClayExtrapolation,
    CurvePoint,
    DepthLine,
    DepthTable,
    Hydrometer,
    HydrometerScale,
    Interpolation,
    MethodEdition,
    Pycnometer,
    ReadingPoint,
    RunRecord,
    SieveMass,
    Sieving,
    TemperatureLine,
    effective_depth_line,
)
from particles.distribution.plain import Plain, value_from_plain
from particles.distribution.settling.pipette import Aliquot

T = TypeVar("T")

SCHEMA_PATH = Path(__file__).with_name("schema.json")
SAND_SIEVE_TOLERANCE = 1.06
"""An opening up to this ratio above another sand limit counts as its sieve, as 53 does for 50 µm."""

SHAPE_KEPT = {"minimum", "maximum", "exclusiveMinimum"}
"""Schema faults after which the sheet still has its shape, so that the further checks can run."""


class BenchSheetError(ValueError):
    """The sheet cannot be read; `faults` lists everything found, by place."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: fault.place))
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(frozen=True, slots=True)
class RunSheet:
    """One cylinder and the method to compute it by."""

    title: str
    source: str
    record: RunRecord
    method: MethodEdition


@dataclass(frozen=True, slots=True)
class SieveSheet:
    """A stack of sieves, with or without ready hydrometer percentages of its fines."""

    title: str
    source: str
    started_with_g: float | None
    sieves: tuple[SieveMass, ...]
    pan_g: float
    fines_split_um: float | None
    hydrometer: tuple[CurvePoint, ...]
    """Percent of the fines, in falling order of diameter."""


@dataclass(frozen=True, slots=True)
class PipetteSheet:
    """A pipette test."""

    title: str
    source: str
    oven_dry_mass_g: float
    volume_ml: float
    dispersant_g_l: float
    aliquots: tuple[Aliquot, ...]


BenchSheet = RunSheet | SieveSheet | PipetteSheet


def read_bench_sheet(data: object) -> BenchSheet:
    """The sheet as frozen values; BenchSheetError lists every fault of a bad one."""
    if not isinstance(data, Mapping):
        raise BenchSheetError([Fault("", "must be a JSON object")])
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise BenchSheetError([Fault("kind", f"must be one of {', '.join(KINDS)}; it is {kind!r}")])
    return KINDS[kind](dict(data))


def _read(data: Plain, kind: type[T], further: Callable[[T], Iterator[Fault]]) -> T:
    """The sheet in its form. BenchSheetError lists the schema's faults, and `further` ones if it keeps its shape."""
    errors = list(_validator(kind.__name__.lower()).iter_errors(data))
    faults = [_as_fault(error) for error in errors]
    if any(error.validator not in SHAPE_KEPT for error in errors):
        raise BenchSheetError(faults)
    sheet = value_from_plain(kind, data)
    faults += further(sheet)
    if faults:
        raise BenchSheetError(faults)
    return sheet


@cache
def _validator(kind: str) -> Draft202012Validator:
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": schema["$defs"]})


def _as_fault(error: Any) -> Fault:
    what = error.message
    if error.validator == "oneOf":
        what = (
            "give either intercept_cm and slope_cm_per_unit, or readings and depths_cm, or the bulb's measures, "
            "above zero"
        )
    return Fault("/".join(str(step) for step in error.absolute_path), what)


def _run(data: Plain) -> RunSheet:
    sheet = _read(data, form.Run, run_faults)
    portion, correction, gravel = sheet.portion, sheet.correction, sheet.gravel
    line = correction.temperature_line
    record = RunRecord(
        label=sheet.title,
        hydrometer=_hydrometer(sheet.hydrometer),
        readings=tuple(_reading(each, correction.composite_g_l) for each in sheet.readings),
        correction=correction.rule,
        oven_dry_mass_g=portion.oven_dry_mass_g,
        air_dry_mass_g=portion.air_dry_mass_g,
        moisture_pct=portion.moisture_pct,
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
        gravel_sieves=_stack(gravel.sieves) if gravel else (),
        whole_sample_dry_mass_g=gravel.whole_sample_dry_mass_g if gravel else None,
    )
    return RunSheet(sheet.title, sheet.source, record, _method(sheet))


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
        temperature_c=given.temperature_c,
        state=given.state,
        reading=given.reading,
        blank_reading=given.blank_reading,
        blank_temperature_c=given.blank_temperature_c,
        blank_gap_s=given.blank_gap_s,
        blank_number=given.blank_number,
        composite_correction_graduations=composite_g_l if own_g_l is None else own_g_l,
    )


def _stack(sieves: tuple[form.Sieve, ...]) -> tuple[SieveMass, ...]:
    return tuple(SieveMass(sieve.opening_um, sieve.retained_g) for sieve in sieves)


def _sieving(given: form.Sieving) -> Sieving:
    return Sieving(given.washed_dry_mass_g, _stack(given.sieves), given.pan_g, given.portion_oven_dry_mass_g)


def _sieves(data: Plain) -> SieveSheet:
    sheet = _read(data, form.Sieves, sieve_faults)
    return SieveSheet(
        title=sheet.title,
        source=sheet.source,
        started_with_g=sheet.started_with_g,
        sieves=_stack(sheet.sieves),
        pan_g=sheet.pan_g,
        fines_split_um=sheet.fines_split_um,
        hydrometer=tuple(
            CurvePoint(point.diameter_um, point.percent_of_fines, "hydrometer")
            for point in sheet.hydrometer_points
        ),
    )


def _pipette(data: Plain) -> PipetteSheet:
    sheet = _read(data, form.Pipette, pipette_faults)
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
    )


def _oven_dry_g(portion: form.Portion) -> float:
    if portion.oven_dry_mass_g is not None:
        return portion.oven_dry_mass_g
    assert portion.air_dry_mass_g is not None, "a portion without a mass is a fault"
    assert portion.moisture_pct is not None, "a portion without a moisture is a fault"
    return portion.air_dry_mass_g / (1.0 + portion.moisture_pct / 100.0)


KINDS: Mapping[str, Callable[[Plain], BenchSheet]] = MappingProxyType(
    {"run": _run, "sieves": _sieves, "pipette": _pipette}
)
"""Kind of sheet -> its reader."""
