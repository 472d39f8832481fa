"""Refusal of records that cannot be computed at all, by a DistributionError before any arithmetic."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from itertools import pairwise
from math import isfinite
from typing import cast

from particles.distribution.errors import (
    BetweenRunSpreadOutOfRangeError,
    DensityOutOfRangeError,
    DispersantOutOfRangeError,
    DoubleCorrectionError,
    MassOutOfRangeError,
    MoistureNegativeError,
    NoReadingsError,
    NotANumberError,
    ReadingAbsentError,
    TemperatureOutOfRangeError,
    TimesNotRisingError,
    VolumeOutOfRangeError,
    WrongScaleError,
)
from particles.distribution.inputs.impossible_instrument import refuse_impossible_instrument
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.inputs.pycnometer import density_by_pycnometer_g_cm3
from particles.distribution.possible import (
    BETWEEN_RUN_POSSIBLE_PCT,
    BLANK_APART_POSSIBLE_C,
    DISPERSANT_POSSIBLE_G_L,
    EARLIEST_S,
    LATEST_S,
    MASS_POSSIBLE_G,
    NO_RELATIVE_DENSITY,
    PARTICLE_DENSITY_POSSIBLE_G_CM3,
    RELATIVE_DENSITY_POSSIBLE,
    TEMPERATURE_POSSIBLE_C,
    VOLUME_POSSIBLE_ML,
)
from particles.distribution.record import (
    Correction,
    HydrometerScale,
    ReadingPoint,
    ReadingState,
    RunRecord,
    stored_name,
)
from particles.distribution.sieves.gravel import refuse_impossible_gravel
from particles.distribution.sieves.stack import refuse_impossible_sieving


def refuse_impossible(record: RunRecord) -> None:
    """Raise for the first thing that makes the record impossible to compute."""
    if not record.readings:
        raise NoReadingsError("The run has no reading slot", "0 readings", "Enter at least one reading.")
    _refuse_not_finite(record)
    refuse_impossible_instrument(record.hydrometer)
    for index, point in enumerate(record.readings):
        _refuse_point(record, index, point)
    _refuse_blanks(record)
    _refuse_times(record)
    _refuse_double_correction(record)
    _refuse_portion(record)
    if record.sieving:
        refuse_impossible_sieving(record.sieving)
    refuse_impossible_gravel(record)


def _refuse_not_finite(record: RunRecord) -> None:
    for place, value in _not_finite(record):
        raise NotANumberError(f"{'/'.join(place)} is not a number", str(value), "Enter the value again.")


def _not_finite(value: object) -> Iterator[tuple[tuple[str, ...], float]]:
    """Yield each value of a record that is not a finite number, with its place: readings, 3, reading."""
    if isinstance(value, float):
        if not isfinite(value):
            yield (), value
        return
    held: Iterable[tuple[str, object]] = ()
    if isinstance(value, tuple):
        held = ((str(index), item) for index, item in enumerate(value))
    elif names := _field_names(cast(Hashable, type(value))):
        held = ((stored, getattr(value, name)) for name, stored in names)
    for name, item in held:
        for place, found in _not_finite(item):
            yield (name, *place), found


@cache
def _field_names(kind: Hashable) -> tuple[tuple[str, str], ...]:
    """(name in the code, name in stored JSON) of every field."""
    return tuple((each.name, stored_name(each)) for each in fields(kind)) if is_dataclass(kind) else ()


def _refuse_point(record: RunRecord, index: int, point: ReadingPoint) -> None:
    must_hold = point.state is ReadingState.READ
    if must_hold != (point.reading is not None):
        raise ReadingAbsentError(
            f"A slot marked '{point.state}' must {'' if must_hold else 'not '}hold a value",
            f"{point.reading}",
            "Mark the slot as missed or above scale, or enter the value.",
            index,
        )
    if point.temperature_c is None and point.state is not ReadingState.MISSED:
        raise ReadingAbsentError(
            "A reading without a temperature",
            f"{point.elapsed_s:g} s",
            "Enter the temperature, or mark it missed.",
            index,
        )
    for temperature_c in (point.temperature_c, point.blank_temperature_c):
        if temperature_c is not None and temperature_c not in TEMPERATURE_POSSIBLE_C:
            raise TemperatureOutOfRangeError(
                f"Temperature outside {TEMPERATURE_POSSIBLE_C}",
                f"{temperature_c:g} °C",
                "Check the thermometer and its unit (68 to 80 is usually °F); correct the entry.",
                index,
            )
    _refuse_far_blank(index, point)
    _refuse_scale(record.hydrometer.scale, index, point)


def _refuse_far_blank(index: int, point: ReadingPoint) -> None:
    if point.temperature_c is None or point.blank_temperature_c is None:
        return
    apart_c = abs(point.temperature_c - point.blank_temperature_c)
    if apart_c > BLANK_APART_POSSIBLE_C:
        raise TemperatureOutOfRangeError(
            f"Suspension and blank more than {BLANK_APART_POSSIBLE_C:g} °C apart, which two cylinders on one bench "
            "cannot be",
            f"{point.temperature_c:g} and {point.blank_temperature_c:g} °C",
            "Check both temperatures, and that this blank stood beside this cylinder.",
            index,
        )


def _refuse_blanks(record: RunRecord) -> None:
    """The readings of a blank that serve together: in order of time, possible, and on the scale of the instrument."""
    for blank in record.blanks:
        if blank.temperature_c not in TEMPERATURE_POSSIBLE_C:
            raise TemperatureOutOfRangeError(
                f"Temperature of the blank outside {TEMPERATURE_POSSIBLE_C}",
                f"{blank.temperature_c:g} °C",
                "Check the thermometer and its unit (68 to 80 is usually °F); correct the entry.",
            )
        as_blank = ReadingPoint(blank.at_s, blank.temperature_c, blank_reading=blank.reading)
        _refuse_scale(record.hydrometer.scale, None, as_blank)
    for one, other in pairwise(record.blanks):
        if other.at_s < one.at_s:
            raise TimesNotRisingError(
                "The readings of the blank do not stand in order of time",
                f"{one.at_s:g} s, then {other.at_s:g} s",
                "Sort them by time; check the day of each.",
            )
    if record.blank_dispersant_g_l is not None and record.blank_dispersant_g_l not in DISPERSANT_POSSIBLE_G_L:
        raise DispersantOutOfRangeError(
            f"Dispersant in the blank's cylinder outside {DISPERSANT_POSSIBLE_G_L}",
            f"{record.blank_dispersant_g_l:g} g/L",
            "Enter the concentration in the filled cylinder, not that of the stock solution.",
        )


def _refuse_scale(scale: HydrometerScale, index: int | None, point: ReadingPoint) -> None:
    for name, value in (("reading", point.reading), ("blank", point.blank_reading)):
        if value is None:
            continue
        # 1.0 g/L may truly be read on a half-gram stem; 1.002 can only be a relative density.
        whole = value == 1.0 or (name == "blank" and abs(value * 20.0 - round(value * 20.0)) < 1e-9)
        if scale is HydrometerScale.GRAMS_PER_LITRE and value in RELATIVE_DENSITY_POSSIBLE and not whole:
            raise WrongScaleError(
                f"The {name} is a relative density, the instrument is a 152H (g/L)",
                f"{value:g}",
                "Say which hydrometer was used; do not convert without its record.",
                index,
            )
        if scale is HydrometerScale.RELATIVE_DENSITY and value > NO_RELATIVE_DENSITY:
            raise WrongScaleError(
                f"The {name} is in g/L or thousandths, the instrument is a 151H (relative density, 1.0…)",
                f"{value:g}",
                "Say which hydrometer was used, or enter the full value such as 1.021.",
                index,
            )


def _refuse_times(record: RunRecord) -> None:
    taken = [(k, point) for k, point in enumerate(record.readings) if point.state is not ReadingState.MISSED]
    for index, point in enumerate(record.readings):
        if point.elapsed_s <= 0.0:
            raise TimesNotRisingError(
                "Elapsed time must be above zero",
                f"{point.elapsed_s:g} s",
                "Use the time since the end of stirring.",
                index,
            )
        if point.elapsed_s < EARLIEST_S:
            raise TimesNotRisingError(
                f"A reading within {EARLIEST_S:g} s of stirring, when no hydrometer is at rest",
                f"{point.elapsed_s:g} s",
                "Enter the time in seconds since the end of stirring.",
                index,
            )
        if point.elapsed_s > LATEST_S:
            raise TimesNotRisingError(
                f"A reading more than {LATEST_S / 86_400.0:g} days after stirring",
                f"{point.elapsed_s:g} s",
                "Enter the time in seconds since the end of stirring.",
                index,
            )
    for (_, before), (index, after) in pairwise(taken):
        if after.elapsed_s <= before.elapsed_s:
            raise TimesNotRisingError(
                "Elapsed times must rise from reading to reading",
                f"{after.elapsed_s:g} s after {before.elapsed_s:g} s",
                "Check the times and the order of the rows.",
                index,
            )


def _refuse_double_correction(record: RunRecord) -> None:
    separate = record.zero_correction_graduations != 0.0 or record.temperature_correction is not None
    composite = any(point.composite_correction_graduations is not None for point in record.readings)
    for given, rule in ((separate, Correction.SEPARATE), (composite, Correction.COMPOSITE)):
        if given and record.correction is not rule:
            raise DoubleCorrectionError(
                f"The run is corrected by '{record.correction}' but carries figures of '{rule}'",
                "two corrections",
                "Keep one rule; a measured blank already carries temperature and zero.",
            )


def _refuse_portion(record: RunRecord) -> None:
    if record.moisture_pct is not None and record.moisture_pct < 0.0:
        raise MoistureNegativeError(
            "Moisture is below zero",
            f"{record.moisture_pct:g} %",
            "Check the dish weighings: air-dry soil cannot be lighter than oven-dry.",
        )
    mass = portion_mass(record)
    ranges = [
        ("Oven-dry mass", None if mass is None else mass.mass_g, MASS_POSSIBLE_G, MassOutOfRangeError),
        (
            "Particle density",
            record.particle_density_g_cm3,
            PARTICLE_DENSITY_POSSIBLE_G_CM3,
            DensityOutOfRangeError,
        ),
        ("Volume", record.volume_ml, VOLUME_POSSIBLE_ML, VolumeOutOfRangeError),
        (
            "Dispersant",
            record.dispersant_g_l,
            DISPERSANT_POSSIBLE_G_L,
            DispersantOutOfRangeError,
        ),
        (
            "Between-run standard deviation",
            record.between_run_sd_pct,
            BETWEEN_RUN_POSSIBLE_PCT,
            BetweenRunSpreadOutOfRangeError,
        ),
        *(
            (
                "Between-run standard deviation",
                value_pct,
                BETWEEN_RUN_POSSIBLE_PCT,
                BetweenRunSpreadOutOfRangeError,
            )
            for own in (record.between_run_sand, record.between_run_clay)
            if own is not None
            for value_pct in (own.level_pct, own.rise_pct)
        ),
    ]
    for name, value, possible, error in ranges:
        if value is not None and value not in possible:
            raise error(f"{name} outside {possible}", f"{value:g} {possible.unit}", "Check the entry.")
    if record.particle_density_weighings is not None:
        density_by_pycnometer_g_cm3(record.particle_density_weighings)
