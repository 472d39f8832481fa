"""
A bench sheet, as a dict, read into what the arithmetic takes.

Our own format: bench_sheet.schema.json beside this file. Every fault is listed with its place, such as
readings/3/temperature_c, before anything is computed.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from particles.bench_sheet.faults import Fault, Sheet, pipette_faults, run_faults, scale_ends, sieve_faults
from particles.distribution import (
    DEFAULT_METHOD_CODE,
    METHOD_EDITIONS,
    ClayExtrapolation,
    Correction,
    CurvePoint,
    DepthLine,
    DepthTable,
    Hydrometer,
    HydrometerScale,
    Interpolation,
    MethodEdition,
    ReadingPoint,
    ReadingState,
    RunRecord,
    SieveMass,
    Sieving,
    TemperatureLine,
    effective_depth_line,
)
from particles.distribution.settling.pipette import Aliquot

SCHEMA_PATH = Path(__file__).with_name("schema.json")
SAND_SIEVE_TOLERANCE = 1.06
"""An opening up to this ratio above another sand limit counts as its sieve, as 53 does for 50 µm."""

SHAPE_KEPT = {"minimum", "maximum", "exclusiveMinimum"}
"""Schema faults after which the sheet still has its shape, so that the further checks can run."""


class BenchSheetError(ValueError):
    """The sheet cannot be read; `faults` lists everything found."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in faults))


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
    readers: dict[str, Callable[[Sheet], BenchSheet]] = {"run": _run, "sieves": _sieves, "pipette": _pipette}
    if not isinstance(kind, str) or kind not in readers:
        raise BenchSheetError([Fault("kind", f"must be one of {', '.join(readers)}; it is {kind!r}")])
    errors = list(_validator(kind).iter_errors(data))
    faults = [_as_fault(error) for error in errors]
    if all(error.validator in SHAPE_KEPT for error in errors):
        faults += {"run": run_faults, "sieves": sieve_faults, "pipette": pipette_faults}[kind](data)
    if faults:
        raise BenchSheetError(sorted(faults, key=lambda fault: fault.place))
    return readers[kind](data)


@cache
def _validator(kind: str) -> Draft202012Validator:
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    name = {"run": "run_sheet", "sieves": "sieve_sheet", "pipette": "pipette_sheet"}[kind]
    return Draft202012Validator({"$ref": f"#/$defs/{name}", "$defs": schema["$defs"]})


def _as_fault(error: Any) -> Fault:
    what = error.message
    if error.validator == "oneOf":
        what = (
            "give either intercept_cm and slope_cm_per_unit, or readings and depths_cm, or the bulb's measures, "
            "above zero"
        )
    return Fault("/".join(str(step) for step in error.absolute_path), what)


def _run(data: Sheet) -> RunSheet:
    correction = data.get("correction", {"rule": Correction.MEASURED_BLANK.value})
    line = correction.get("temperature_line")
    portion = data["portion"]
    record = RunRecord(
        label=data["title"],
        hydrometer=_hydrometer(data["hydrometer"]),
        readings=tuple(_reading(each, correction.get("composite_g_l")) for each in data["readings"]),
        correction=Correction(correction["rule"]),
        oven_dry_mass_g=portion.get("oven_dry_mass_g"),
        air_dry_mass_g=portion.get("air_dry_mass_g"),
        moisture_pct=portion.get("moisture_pct"),
        particle_density_g_cm3=portion.get("particle_density_g_cm3", 2.65),
        particle_density_measured=portion.get("particle_density_measured", False),
        gravel_pct=portion.get("gravel_pct"),
        dispersant_g_l=data.get("dispersant_g_l", 0.0),
        volume_ml=data.get("volume_ml", 1000.0),
        zero_correction_graduations=correction.get("zero_g_l", 0.0),
        temperature_correction=TemperatureLine(line["intercept_g_l"], line["slope_g_l_per_c"])
        if line
        else None,
        sieving=_sieving(data["sieving"]) if "sieving" in data else None,
        gravel_sieves=tuple(SieveMass(**sieve) for sieve in data.get("gravel", {}).get("sieves", [])),
        whole_sample_dry_mass_g=data.get("gravel", {}).get("whole_sample_dry_mass_g"),
    )
    return RunSheet(data["title"], data.get("source", ""), record, _method(data))


def _method(data: Sheet) -> MethodEdition:
    edition = at_limits(
        METHOD_EDITIONS[data.get("method_code", DEFAULT_METHOD_CODE)], data.get("size_limits_um")
    )
    return replace(
        with_rules(edition, data),
        also_systems=tuple(data.get("also_systems", edition.also_systems)),
        confirmed_systems=tuple(data.get("confirmed_systems", edition.confirmed_systems)),
    )


def with_rules(edition: MethodEdition, data: Sheet) -> MethodEdition:
    """The edition with the sheet's rules for reading off, which its code then names when they are not its own."""
    interpolation = Interpolation(data.get("interpolation", edition.interpolation))
    clay = ClayExtrapolation(data.get("clay_extrapolation", edition.clay_extrapolation))
    code = edition.code
    if interpolation is not edition.interpolation:
        code += f", {interpolation}"
    if clay is not edition.clay_extrapolation:
        code += f", clay by {clay}"
    return replace(edition, code=code, interpolation=interpolation, clay_extrapolation=clay)


def at_limits(edition: MethodEdition, limits: Mapping[str, float] | None) -> MethodEdition:
    """The edition with other size limits, which its code then names; unchanged when they are its own."""
    if not limits or (limits["clay"], limits["sand"]) == (edition.clay_limit_um, edition.sand_limit_um):
        return edition
    return replace(
        edition,
        code=f"{edition.code} at {limits['clay']:g} and {limits['sand']:g} µm",
        clay_limit_um=limits["clay"],
        sand_limit_um=limits["sand"],
        sand_sieve_openings_um=(limits["sand"], limits["sand"] * SAND_SIEVE_TOLERANCE),
    )


def _depth(data: Sheet, scale: HydrometerScale) -> DepthLine | DepthTable:
    if "readings" in data:
        return DepthTable(tuple(data["readings"]), tuple(data["depths_cm"]))
    if "bulb_volume_cm3" not in data:
        return DepthLine(**data)
    low, high = ((mark["reading"], mark["distance_cm"]) for mark in data["distances_to_bulb_top"])
    return effective_depth_line(
        scale,
        bulb_volume_cm3=data["bulb_volume_cm3"],
        cylinder_area_cm2=data["cylinder_area_cm2"],
        bulb_length_cm=data["bulb_length_cm"],
        distances_to_bulb_top_cm=(low, high),
    )


def _hydrometer(data: Sheet) -> Hydrometer:
    low, high = scale_ends(data)
    return Hydrometer(
        identity=data.get("identity", ""),
        scale=HydrometerScale(data["scale"]),
        depth=_depth(data["depth"], HydrometerScale(data["scale"])),
        meniscus_correction=data["meniscus_correction"],
        insertion_displacement_cm=data.get("insertion_displacement_cm", 0.0),
        scale_minimum=low,
        scale_maximum=high,
        scale_corrections=tuple((p["reading"], p["correction"]) for p in data.get("scale_corrections", [])),
    )


def _reading(data: Sheet, composite_g_l: float | None) -> ReadingPoint:
    given = {**data, "state": ReadingState(data.get("state", "read"))}
    composite = given.pop("composite_correction_g_l", composite_g_l)
    return ReadingPoint(**given, composite_correction_graduations=composite)


def _sieving(data: Sheet) -> Sieving:
    return Sieving(
        data["washed_dry_mass_g"],
        tuple(SieveMass(**sieve) for sieve in data["sieves"]),
        data["pan_g"],
        data.get("portion_oven_dry_mass_g"),
    )


def _sieves(data: Sheet) -> SieveSheet:
    return SieveSheet(
        title=data["title"],
        source=data.get("source", ""),
        started_with_g=data.get("started_with_g"),
        sieves=tuple(SieveMass(**sieve) for sieve in data["sieves"]),
        pan_g=data["pan_g"],
        fines_split_um=data.get("fines_split_um"),
        hydrometer=tuple(
            CurvePoint(point["diameter_um"], point["percent_of_fines"], "hydrometer")
            for point in data.get("hydrometer_points", [])
        ),
    )


def _pipette(data: Sheet) -> PipetteSheet:
    portion = data["portion"]
    oven_dry_g = portion.get("oven_dry_mass_g")
    if oven_dry_g is None:
        oven_dry_g = portion["air_dry_mass_g"] / (1.0 + portion["moisture_pct"] / 100.0)
    aliquots = tuple(
        Aliquot(each["name"], each["volume_ml"], each["dish_and_residue_g"] - each["dish_g"])
        for each in data["aliquots"]
    )
    dispersant_g_l = data.get("dispersant_g_l", 0.0)
    return PipetteSheet(
        data["title"], data.get("source", ""), oven_dry_g, data["volume_ml"], dispersant_g_l, aliquots
    )
