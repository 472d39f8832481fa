"""
Noise of reading by eye, and the blank's own level: the yardsticks of the checks.

A step is a fault only when it is larger than the limit of the method and than the noise of the readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import median

from particles.distribution.answer import SizePoint
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Correction, HydrometerScale, ReadingPoint, ReadingState, RunRecord
from particles.distribution.settling.hydrometer import (
    above_zero,
    concentration_factor,
    soil_per_scale_unit_g_l,
    temperature_difference_correction,
)
from particles.distribution.settling.stem_scale import on_scale
from particles.distribution.settling.water import REFERENCE_C

LEAST_BLANKS = 2
"""Blanks from which a run has a level of its own to compare them with."""
LEAST_SD_G_L = 1e-6
"""Least standard deviation, which keeps ratios finite for an edition that states no noise at all. [g/L]"""


def unit_g_l(scale: HydrometerScale) -> float:
    """Soil of 2.65 g/cm³ behind one unit of `above_zero`. [g/L]"""
    return 1.0 if scale is HydrometerScale.GRAMS_PER_LITRE else soil_per_scale_unit_g_l(scale) / 1000.0


def reading_sd_g_l(record: RunRecord, method: MethodEdition) -> float:
    """Standard deviation of one reading on its own: eye and scale division. [g/L]"""
    uncertainties, scale = method.uncertainties, record.hydrometer.scale
    division = uncertainties.scale_division_g_l
    if scale is HydrometerScale.RELATIVE_DENSITY:
        division = uncertainties.scale_division_density * soil_per_scale_unit_g_l(scale)
    return max(sqrt(uncertainties.reading_g_l**2 + division**2 / 12.0), LEAST_SD_G_L)


def net_sd_g_l(record: RunRecord, method: MethodEdition) -> float:
    """Standard deviation of a reading less a blank read as well as itself. [g/L]"""
    return sqrt(2.0) * reading_sd_g_l(record, method)


def percent_per_g_l(record: RunRecord, portion_g: float) -> float:
    """Percent finer behind one g/L of corrected reading. [%]"""
    scale = record.hydrometer.scale
    factor = concentration_factor(scale, record.particle_density_g_cm3) / unit_g_l(scale)
    return 100.0 * factor * record.volume_ml / 1000.0 / portion_g


def net_g_l(record: RunRecord, point: SizePoint) -> float:
    """Corrected reading as g/L of soil of 2.65, so that one limit serves both stems."""
    scale = record.hydrometer.scale
    return (above_zero(scale, point.reading) - point.correction_graduations) * unit_g_l(scale)


def temperature_shift_g_l(scale: HydrometerScale, temperature_c: float) -> float:
    """Difference of what a hydrometer shows in one liquid at a temperature and at 20 C. [g/L]"""
    return -temperature_difference_correction(scale, temperature_c, REFERENCE_C) * unit_g_l(scale)


@dataclass(frozen=True, slots=True)
class BlankLine:
    """A run's blank readings brought to 20 C."""

    level_g_l: float
    """Median at 20 C."""
    difference_g_l: dict[int, float]
    """Reading index -> difference of the blank, at its own temperature, from that level."""
    shift_g_l: dict[int, float]
    """Reading index -> what its temperature is expected to do against 20 C."""


def blank_temperature_c(point: ReadingPoint) -> float | None:
    """The blank's own temperature, or else the suspension's."""
    return point.temperature_c if point.blank_temperature_c is None else point.blank_temperature_c


def blank_g_l(record: RunRecord, blank_reading: float) -> float:
    """A blank on either stem as the g/L a true 152H would show."""
    scale = record.hydrometer.scale
    return above_zero(scale, on_scale(record.hydrometer, blank_reading)) * unit_g_l(scale)


def blank_line(record: RunRecord) -> BlankLine | None:
    """Blank readings of a run brought to 20 C; None without a measured blank or with a single one."""
    if record.correction is not Correction.MEASURED_BLANK:
        return None
    shift: dict[int, float] = {}
    at_20: dict[int, float] = {}
    for index, point in enumerate(record.readings):
        warm_c = blank_temperature_c(point)
        if point.blank_reading is None or warm_c is None or point.state is ReadingState.MISSED:
            continue
        shift[index] = temperature_shift_g_l(record.hydrometer.scale, warm_c)
        at_20[index] = blank_g_l(record, point.blank_reading) - shift[index]
    if len(at_20) < LEAST_BLANKS:
        return None
    level = median(at_20.values())
    return BlankLine(level, {index: value - level for index, value in at_20.items()}, shift)


def steady_nets_g_l(record: RunRecord, points: tuple[SizePoint, ...]) -> tuple[float, ...]:
    """
    Corrected readings against the blank's own level instead of each single blank, for the checks only.

    (n,) lines up with points. [g/L of 2.65 g/cm³] A slip in one blank is the blank's matter, not the reading's.
    """
    # Served by the whole series, they stand against the blank's own level already.
    line = None if record.blanks else blank_line(record)
    differences = line.difference_g_l if line else {}
    return tuple(net_g_l(record, point) + differences.get(point.reading_index, 0.0) for point in points)
