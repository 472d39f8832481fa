"""Checks that the schema of a bench sheet cannot make: times that rise, masses that fit, codes that exist."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from particles.distribution import DEFAULT_METHOD_CODE, METHOD_EDITIONS, TEXTURE_SYSTEMS, Correction

SCALE_ENDS = {"152H": (-5.0, 60.0), "151H": (0.995, 1.038)}
"""Ends of the stem when the sheet names none; from memory."""

Sheet = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a sheet."""

    place: str
    """Path into the sheet, such as readings/3/temperature_c; '' for the sheet itself."""
    what: str

    def __str__(self) -> str:
        return f"{self.place or 'sheet'}: {self.what}"


def scale_ends(hydrometer: Sheet) -> tuple[float, float]:
    low, high = SCALE_ENDS[hydrometer["scale"]]
    return hydrometer.get("scale_minimum", low), hydrometer.get("scale_maximum", high)


def run_faults(data: Sheet) -> Iterator[Fault]:
    """Faults of the sheet of one cylinder that its schema cannot find."""
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
    if "gravel" in data:
        yield from _gravel_faults(data["gravel"])
    for name in ("also_systems", "confirmed_systems"):
        for index, system in enumerate(data.get(name, [])):
            if system not in TEXTURE_SYSTEMS:
                yield Fault(f"{name}/{index}", f"no system {system!r}; known: {', '.join(TEXTURE_SYSTEMS)}")


def _gravel_faults(gravel: Sheet) -> Iterator[Fault]:
    openings = [sieve["opening_um"] for sieve in gravel["sieves"]]
    yield from _order_faults("gravel/sieves", openings)
    for index, opening_um in enumerate(openings):
        if opening_um < 2000.0:
            yield Fault(f"gravel/sieves/{index}", f"{opening_um:g} µm is finer than 2 mm; it is a sand sieve")
    held_g = sum(sieve["retained_g"] for sieve in gravel["sieves"])
    if held_g > gravel["whole_sample_dry_mass_g"]:
        yield Fault("gravel/whole_sample_dry_mass_g", f"is less than the {held_g:g} g on its sieves")


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
    if "bulb_volume_cm3" in depth:
        (low, far_cm), (high, near_cm) = sorted(
            (mark["reading"], mark["distance_cm"]) for mark in depth["distances_to_bulb_top"]
        )
        if high <= low or near_cm >= far_cm:
            yield Fault("hydrometer/depth/distances_to_bulb_top", "must fall as the reading rises")
    marks = [point["reading"] for point in hydrometer.get("scale_corrections", [])]
    if any(b <= a for a, b in pairwise(marks)):
        yield Fault("hydrometer/scale_corrections", "readings must rise from point to point")
    low, high = scale_ends(hydrometer)
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


def sieve_faults(data: Sheet) -> Iterator[Fault]:
    """Faults of a sheet of sieves that its schema cannot find."""
    openings = [sieve["opening_um"] for sieve in data["sieves"]]
    yield from _order_faults("sieves", openings)
    points = [point["diameter_um"] for point in data.get("hydrometer_points", [])]
    yield from _order_faults("hydrometer_points", points)
    split = data.get("fines_split_um")
    if split is not None and split not in openings:
        yield Fault("fines_split_um", f"no sieve has an opening of {split:g} µm")
    if not sum(sieve["retained_g"] for sieve in data["sieves"]) + data["pan_g"] > 0.0:
        yield Fault("sieves", "all masses are zero")


def pipette_faults(data: Sheet) -> Iterator[Fault]:
    """Faults of a pipette test's sheet that its schema cannot find."""
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
