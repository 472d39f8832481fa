"""A forgotten blank from the same blank's readings before and after, only where the method allows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from particles.distribution.inputs.noise import blank_g_l, temperature_shift_g_l, unit_g_l
from particles.distribution.inputs.served_blank import ServedBlank, served_blank
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Correction, HydrometerScale, ReadingPoint, ReadingState, RunRecord
from particles.distribution.settling.stem_scale import scale_correction

INTERPOLATED_SD_G_L = 0.6
"""Standard uncertainty of a blank that was not read, in place of that of its reading. *Common practice*. [g/L]"""
STEPS = 12
"""Steps in which the mark that a calibration turns into a reading is found; each gains several digits."""


def interpolated_blanks_g_l(record: RunRecord, method: MethodEdition) -> dict[int, float]:
    """
    Blanks taken from those before and after: reading index -> blank at the reading's own temperature. [g/L]

    On a true scale. Empty unless the method allows it. Needs a blank with its own temperature on either side, and the
    temperature of the reading; straight in time at one temperature, the last reading is never filled.
    """
    by_neighbours = method.interpolate_missing_blank and not record.blanks
    if not by_neighbours or record.correction is not Correction.MEASURED_BLANK:
        return {}
    filled: dict[int, float] = {}
    for index, point in enumerate(record.readings):
        if point.state is ReadingState.READ and point.blank_reading is None:
            value = _between(record, index, point)
            if value is not None:
                filled[index] = value
    return filled


def _at_20_c(record: RunRecord, point: ReadingPoint) -> float | None:
    if point.blank_reading is None or point.blank_temperature_c is None:
        return None
    shift = temperature_shift_g_l(record.hydrometer.scale, point.blank_temperature_c)
    return blank_g_l(record, point.blank_reading) - shift


def _between(record: RunRecord, index: int, point: ReadingPoint) -> float | None:
    levels = sorted(
        (p.elapsed_s, level) for p in record.readings if (level := _at_20_c(record, p)) is not None
    )
    before = [each for each in levels if each[0] < point.elapsed_s]
    after = [each for each in levels if each[0] > point.elapsed_s]
    if not before or not after or point.temperature_c is None:
        return None
    (was_s, was), (then_s, then) = before[-1], after[0]
    share = (point.elapsed_s - was_s) / (then_s - was_s)
    return was + share * (then - was) + temperature_shift_g_l(record.hydrometer.scale, point.temperature_c)


def _mark(record: RunRecord, true_g_l: float) -> float:
    """Mark on the stem that its calibration turns into that blank, in scale units."""
    dense = record.hydrometer.scale is HydrometerScale.RELATIVE_DENSITY
    per_g_l = 1.0 / unit_g_l(record.hydrometer.scale)
    true = 1.0 + true_g_l * per_g_l / 1000.0 if dense else true_g_l * per_g_l
    mark = true
    for _ in range(STEPS):
        # Calibrations move by far less than the marks do, so each step gains several digits.
        mark = true - scale_correction(record.hydrometer, mark)
    return mark


def with_blanks_served(record: RunRecord, method: MethodEdition) -> RunRecord:
    """The record that is computed with: each reading beside the blank that serves it, wherever one does."""
    served = served_blank(record, method)
    if served is None:
        return with_blanks_filled(record, interpolated_blanks_g_l(record, method))
    readings = tuple(
        _served(record, served, k, p) if k in served.weights else p for k, p in enumerate(record.readings)
    )
    return replace(record, readings=readings)


def _served(record: RunRecord, served: ServedBlank, index: int, point: ReadingPoint) -> ReadingPoint:
    """At the mean temperature of the blanks that serve it, so that what the temperature does stays in sight."""
    warm_c = served.temperature_c(index)
    shown_g_l = served.level_g_l(index) + temperature_shift_g_l(record.hydrometer.scale, warm_c)
    return replace(point, blank_reading=_mark(record, shown_g_l), blank_temperature_c=warm_c)


def with_blanks_filled(record: RunRecord, filled: Mapping[int, float]) -> RunRecord:
    """The record with its interpolated blanks, as `interpolated_blanks_g_l` gave them; it is computed with."""
    if not filled:
        return record
    readings = tuple(
        replace(p, blank_reading=_mark(record, filled[k]), blank_temperature_c=p.temperature_c)
        if k in filled
        else p
        for k, p in enumerate(record.readings)
    )
    return replace(record, readings=readings)
