"""
A bench sheet, as a dict, read into what the arithmetic takes.

Our own format: bench_sheet.schema.json beside this file. Every fault is listed with its place, such as
readings/3/temperature_c, before anything is computed.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from .distribution import (
    DEFAULT_METHOD_CODE,
    METHOD_EDITIONS,
    Correction,
    CurvePoint,
    DepthLine,
    DepthTable,
    Hydrometer,
    HydrometerScale,
    MethodEdition,
    ReadingPoint,
    ReadingState,
    RunRecord,
    SieveMass,
    Sieving,
    TemperatureLine,
)
from .distribution.pipette import Aliquot

SCHEMA_PATH = Path(__file__).with_name("bench_sheet.schema.json")
SCALE_ENDS = {"152H": (-5.0, 60.0), "151H": (0.995, 1.038)}
"""Ends of the stem when the sheet names none; from memory."""
SAND_SIEVE_TOLERANCE = 1.06
"""An opening up to this ratio above another sand limit counts as its sieve, as 53 does for 50 µm."""

SHAPE_KEPT = {"minimum", "maximum", "exclusiveMinimum"}
"""Schema faults after which the sheet still has its shape, so that the further checks can run."""

Sheet = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a sheet."""

    place: str
    """Path into the sheet, such as readings/3/temperature_c; '' for the sheet itself."""
    what: str

    def __str__(self) -> str:
        return f"{self.place or 'sheet'}: {self.what}"


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
        faults += {"run": _run_faults, "sieves": _sieve_faults, "pipette": _pipette_faults}[kind](data)
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
        what = "give either intercept_cm and slope_cm_per_unit, or readings and depths_cm, above zero"
    return Fault("/".join(str(step) for step in error.absolute_path), what)


def _run_faults(data: Sheet) -> Iterator[Fault]:
    code = data.get("method_code", DEFAULT_METHOD_CODE)
    if code not in METHOD_EDITIONS:
        yield Fault("method_code", f"no edition {code!r}; known: {', '.join(METHOD_EDITIONS)}")
    limits = data.get("size_limits_um")
    if limits and limits["clay"] >= limits["sand"]:
        yield Fault(
            "size_limits_um", f"clay limit {limits['clay']:g} µm is not below sand {limits['sand']:g} µm"
        )
    yield from _hydrometer_faults(data["hydrometer"])
    for index, (before, after) in enumerate(pairwise(data["readings"]), start=1):
        if after["elapsed_s"] <= before["elapsed_s"]:
            what = f"{after['elapsed_s']:g} s does not come after {before['elapsed_s']:g} s"
            yield Fault(f"readings/{index}/elapsed_s", what)
    for index, reading in enumerate(data["readings"]):
        yield from _reading_faults(index, reading, data.get("correction", {}).get("rule"))
    yield from _correction_faults(data.get("correction", {}))
    if data["portion"].get("moisture_pct", 0.0) < 0.0:
        yield Fault("portion/moisture_pct", f"{data['portion']['moisture_pct']:g} % is below zero")
    if "sieving" in data:
        yield from _order_faults("sieving/sieves", [s["opening_um"] for s in data["sieving"]["sieves"]])


def _hydrometer_faults(hydrometer: Sheet) -> Iterator[Fault]:
    depth = hydrometer["depth"]
    if "readings" in depth:
        if len(depth["readings"]) != len(depth["depths_cm"]):
            what = f"{len(depth['readings'])} readings but {len(depth['depths_cm'])} depths"
            yield Fault("hydrometer/depth", what)
        elif any(b <= a for a, b in pairwise(depth["readings"])):
            yield Fault("hydrometer/depth/readings", "must rise from point to point")
        elif any(b >= a for a, b in pairwise(depth["depths_cm"])):
            yield Fault("hydrometer/depth/depths_cm", "must fall from point to point")
    low, high = _scale_ends(hydrometer)
    if low >= high:
        yield Fault("hydrometer/scale_minimum", f"{low:g} is not below the maximum {high:g}")


def _reading_faults(index: int, reading: Sheet, rule: str | None) -> Iterator[Fault]:
    place = f"readings/{index}"
    state = reading.get("state", "read")
    if state == "read" and "reading" not in reading:
        yield Fault(
            f"{place}/reading", "is absent; give the value, or mark the slot as missed or above scale"
        )
    if state != "missed" and "temperature_c" not in reading:
        yield Fault(f"{place}/temperature_c", "is absent; only a missed slot may be without a temperature")
    if state != "read" and "reading" in reading:
        yield Fault(f"{place}/reading", f"a slot marked {state!r} cannot hold {reading['reading']:g}")
    if "composite_correction_g_l" in reading and rule != Correction.COMPOSITE.value:
        what = f"needs correction/rule {Correction.COMPOSITE.value!r}; one rule per run"
        yield Fault(f"{place}/composite_correction_g_l", what)


def _correction_faults(correction: Sheet) -> Iterator[Fault]:
    rule = correction.get("rule")
    for name, needed in (
        ("composite_g_l", Correction.COMPOSITE),
        ("zero_g_l", Correction.SEPARATE),
        ("temperature_line", Correction.SEPARATE),
    ):
        if name in correction and rule != needed.value:
            yield Fault(f"correction/{name}", f"needs rule {needed.value!r}, the sheet says {rule!r}")


def _order_faults(place: str, sizes: list[float]) -> Iterator[Fault]:
    for index, (above, below) in enumerate(pairwise(sizes), start=1):
        if below >= above:
            yield Fault(f"{place}/{index}", f"{below:g} µm does not come below {above:g} µm")


def _sieve_faults(data: Sheet) -> Iterator[Fault]:
    openings = [sieve["opening_um"] for sieve in data["sieves"]]
    yield from _order_faults("sieves", openings)
    points = [point["diameter_um"] for point in data.get("hydrometer_points", [])]
    yield from _order_faults("hydrometer_points", points)
    split = data.get("fines_split_um")
    if split is not None and split not in openings:
        yield Fault("fines_split_um", f"no sieve has an opening of {split:g} µm")
    if not sum(sieve["retained_g"] for sieve in data["sieves"]) + data["pan_g"] > 0.0:
        yield Fault("sieves", "all masses are zero")


def _pipette_faults(data: Sheet) -> Iterator[Fault]:
    portion = data["portion"]
    if "oven_dry_mass_g" not in portion and not {"air_dry_mass_g", "moisture_pct"} <= set(portion):
        yield Fault("portion", "needs oven_dry_mass_g, or air_dry_mass_g with moisture_pct")
    if portion.get("moisture_pct", 0.0) < 0.0:
        yield Fault("portion/moisture_pct", f"{portion['moisture_pct']:g} % is below zero")
    for index, aliquot in enumerate(data["aliquots"]):
        if aliquot["dish_and_residue_g"] < aliquot["dish_g"]:
            yield Fault(f"aliquots/{index}/dish_and_residue_g", "is lighter than its empty dish")
        if aliquot["volume_ml"] > data["volume_ml"]:
            yield Fault(f"aliquots/{index}/volume_ml", "is more than the cylinder holds")


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
        zero_correction_g_l=correction.get("zero_g_l", 0.0),
        temperature_correction=TemperatureLine(**line) if line else None,
        sieving=_sieving(data["sieving"]) if "sieving" in data else None,
    )
    return RunSheet(data["title"], data.get("source", ""), record, _method(data))


def _method(data: Sheet) -> MethodEdition:
    edition = METHOD_EDITIONS[data.get("method_code", DEFAULT_METHOD_CODE)]
    return at_limits(edition, data.get("size_limits_um"))


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


def _scale_ends(hydrometer: Sheet) -> tuple[float, float]:
    low, high = SCALE_ENDS[hydrometer["scale"]]
    return hydrometer.get("scale_minimum", low), hydrometer.get("scale_maximum", high)


def _hydrometer(data: Sheet) -> Hydrometer:
    depth = data["depth"]
    low, high = _scale_ends(data)
    return Hydrometer(
        identity=data.get("identity", ""),
        scale=HydrometerScale(data["scale"]),
        depth=DepthTable(tuple(depth["readings"]), tuple(depth["depths_cm"]))
        if "readings" in depth
        else DepthLine(**depth),
        meniscus_correction=data["meniscus_correction"],
        insertion_displacement_cm=data.get("insertion_displacement_cm", 0.0),
        scale_minimum=low,
        scale_maximum=high,
    )


def _reading(data: Sheet, composite_g_l: float | None) -> ReadingPoint:
    given = {"composite_correction_g_l": composite_g_l, **data}
    return ReadingPoint(**{**given, "state": ReadingState(data.get("state", "read"))})


def _sieving(data: Sheet) -> Sieving:
    return Sieving(data["washed_dry_mass_g"], tuple(SieveMass(**s) for s in data["sieves"]), data["pan_g"])


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
