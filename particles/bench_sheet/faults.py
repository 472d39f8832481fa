"""Checks that the schema of a bench sheet cannot make: times that rise, masses that fit, codes that exist."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from particles.bench_sheet import form
from particles.distribution import (
    DEFAULT_METHOD_CODE,
    METHOD_EDITIONS,
    TEXTURE_SYSTEMS,
    Correction,
    HydrometerScale,
    ReadingState,
)
from particles.distribution.method.check import LEAST_SILT_SPAN

SCALE_ENDS: Mapping[HydrometerScale, tuple[float, float]] = MappingProxyType(
    {HydrometerScale.GRAMS_PER_LITRE: (-5.0, 60.0), HydrometerScale.RELATIVE_DENSITY: (0.995, 1.038)}
)
"""Ends of the stem when the sheet names none; from memory."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a sheet."""

    place: str
    """Path into the sheet, such as readings/3/temperature_c; '' for the sheet itself."""
    what: str

    def __str__(self) -> str:
        return one_line(f"{self.place or 'sheet'}: {self.what}")


def one_line(text: str) -> str:
    """The text with every sign that a terminal would not print as itself written out, such as \\n."""
    return "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii") for sign in text
    )


def scale_ends(hydrometer: form.Hydrometer) -> tuple[float, float]:
    """Lowest and highest mark of the stem. [scale units]"""
    low, high = SCALE_ENDS[hydrometer.scale]
    lowest, highest = hydrometer.scale_minimum, hydrometer.scale_maximum
    return low if lowest is None else lowest, high if highest is None else highest


def run_faults(sheet: form.Run) -> Iterator[Fault]:
    """Faults of the sheet of one cylinder that its schema cannot find."""
    code = sheet.method_code or DEFAULT_METHOD_CODE
    if code not in METHOD_EDITIONS:
        yield Fault("method_code", f"no edition {code!r}; known: {', '.join(METHOD_EDITIONS)}")
    limits = sheet.size_limits_um
    if limits and limits.clay >= limits.sand:
        yield Fault("size_limits_um", f"clay limit {limits.clay:g} µm is not below sand {limits.sand:g} µm")
    elif limits and limits.sand < LEAST_SILT_SPAN * limits.clay:
        what = f"between {limits.clay:g} and {limits.sand:g} µm no silt can be told"
        yield Fault(
            "size_limits_um", f"{what}; the sand limit is at least {LEAST_SILT_SPAN:g} times the clay limit"
        )
    yield from _hydrometer_faults(sheet.hydrometer)
    for index, (before, after) in enumerate(pairwise(sheet.readings), start=1):
        if after.elapsed_s <= before.elapsed_s:
            what = f"{after.elapsed_s:g} s does not come after {before.elapsed_s:g} s"
            yield Fault(f"readings/{index}/elapsed_s", what)
    for index, reading in enumerate(sheet.readings):
        yield from _reading_faults(index, reading, sheet.correction.rule)
    yield from _correction_faults(sheet.correction)
    yield from portion_faults(sheet.portion)
    if sheet.sieving:
        yield from order_faults("sieving/sieves", [sieve.opening_um for sieve in sheet.sieving.sieves])
    if sheet.gravel:
        yield from _gravel_faults(sheet.gravel)
    for name, systems in (
        ("also_systems", sheet.also_systems),
        ("confirmed_systems", sheet.confirmed_systems),
    ):
        for index, system in enumerate(systems or ()):
            if system not in TEXTURE_SYSTEMS:
                yield Fault(f"{name}/{index}", f"no system {system!r}; known: {', '.join(TEXTURE_SYSTEMS)}")


def _gravel_faults(gravel: form.Gravel) -> Iterator[Fault]:
    openings_um = [sieve.opening_um for sieve in gravel.sieves]
    yield from order_faults("gravel/sieves", openings_um)
    for index, opening_um in enumerate(openings_um):
        if opening_um < 2000.0:
            yield Fault(f"gravel/sieves/{index}", f"{opening_um:g} µm is finer than 2 mm; it is a sand sieve")
    held_g = sum(sieve.retained_g for sieve in gravel.sieves)
    if held_g > gravel.whole_sample_dry_mass_g:
        yield Fault("gravel/whole_sample_dry_mass_g", f"is less than the {held_g:g} g on its sieves")


def _hydrometer_faults(hydrometer: form.Hydrometer) -> Iterator[Fault]:
    if isinstance(hydrometer.depth, form.DepthTable):
        yield from _table_faults(hydrometer.depth)
    if isinstance(hydrometer.depth, form.DepthGeometry):
        (low, far_cm), (high, near_cm) = sorted(
            (mark.reading, mark.distance_cm) for mark in hydrometer.depth.distances_to_bulb_top
        )
        if high <= low or near_cm >= far_cm:
            yield Fault("hydrometer/depth/distances_to_bulb_top", "must fall as the reading rises")
    marks = [mark.reading for mark in hydrometer.scale_corrections]
    if any(b <= a for a, b in pairwise(marks)):
        yield Fault("hydrometer/scale_corrections", "readings must rise from point to point")
    low, high = scale_ends(hydrometer)
    if low >= high:
        yield Fault("hydrometer/scale_minimum", f"{low:g} is not below the maximum {high:g}")


def _table_faults(depth: form.DepthTable) -> Iterator[Fault]:
    if len(depth.readings) != len(depth.depths_cm):
        yield Fault("hydrometer/depth", f"{len(depth.readings)} readings but {len(depth.depths_cm)} depths")
    elif any(b <= a for a, b in pairwise(depth.readings)):
        yield Fault("hydrometer/depth/readings", "must rise from point to point")
    elif any(b >= a for a, b in pairwise(depth.depths_cm)):
        yield Fault("hydrometer/depth/depths_cm", "must fall from point to point")


def _reading_faults(index: int, given: form.Reading, rule: Correction) -> Iterator[Fault]:
    place = f"readings/{index}"
    if given.state is ReadingState.READ and given.reading is None:
        yield Fault(
            f"{place}/reading", "is absent; give the value, or mark the slot as missed or above scale"
        )
    for name in ("temperature", "blank_temperature"):
        if getattr(given, f"{name}_c") is not None and getattr(given, f"{name}_f") is not None:
            yield Fault(f"{place}/{name}_f", f"give {name}_c or {name}_f, not both")
    if given.state is not ReadingState.MISSED and given.temperature_c is None and given.temperature_f is None:
        yield Fault(f"{place}/temperature_c", "is absent; only a missed slot may be without a temperature")
    if given.state is not ReadingState.READ and given.reading is not None:
        what = f"a slot marked {given.state.value!r} cannot hold {given.reading:g}"
        yield Fault(f"{place}/reading", what)
    if given.composite_correction_g_l is not None and rule is not Correction.COMPOSITE:
        what = f"needs correction/rule {Correction.COMPOSITE.value!r}; one rule per run"
        yield Fault(f"{place}/composite_correction_g_l", what)


def _correction_faults(correction: form.Correction) -> Iterator[Fault]:
    rule = correction.rule
    for name, given, needed in (
        ("composite_g_l", correction.composite_g_l, Correction.COMPOSITE),
        ("zero_g_l", correction.zero_g_l, Correction.SEPARATE),
        ("temperature_line", correction.temperature_line, Correction.SEPARATE),
    ):
        if given is not None and rule is not needed:
            what = f"needs rule {needed.value!r}, the sheet says {rule.value!r}"
            yield Fault(f"correction/{name}", what)


def portion_faults(portion: form.Portion) -> Iterator[Fault]:
    """Faults of a portion's moisture, however it is given."""
    if portion.moisture_pct is not None and portion.moisture_pct < 0.0:
        yield Fault("portion/moisture_pct", f"{portion.moisture_pct:g} % is below zero")
    if portion.moisture_pct is not None and portion.moisture_dishes:
        yield Fault("portion/moisture_dishes", "give the dishes or moisture_pct, not both")
    for index, dish in enumerate(portion.moisture_dishes):
        if not dish.dish_g < dish.with_oven_dry_g <= dish.with_air_dry_g:
            what = f"{dish.dish_g:g} g empty, {dish.with_air_dry_g:g} g air-dry and {dish.with_oven_dry_g:g} g oven-dry"
            yield Fault(f"portion/moisture_dishes/{index}", f"{what} are no weighings of one dish")


def order_faults(place: str, sizes_um: list[float]) -> Iterator[Fault]:
    """Sizes that do not fall from row to row."""
    for index, (above, below) in enumerate(pairwise(sizes_um), start=1):
        if below >= above:
            yield Fault(f"{place}/{index}", f"{below:g} µm does not come below {above:g} µm")
