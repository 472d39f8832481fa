"""
Grams of soil per litre, and the depth they are found at, from a reading on the stem.

Sources
-------
[1] fixtures/reference and ASTM E100 scale meanings: 152H shows g/L of soil of 2.65 g/cm³ in water at
    20 C; 151H shows relative density 20/20. From memory, checked by the worked examples.
[2] Temperature: buoyancy of a glass body in water; cubic expansion of glass 25e-6 /C, from memory.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from particles.distribution.errors import DepthNotPositiveError, DepthOutsideTableError
from particles.distribution.record import (
    Correction,
    DepthTable,
    Hydrometer,
    HydrometerScale,
    ReadingPoint,
    RunRecord,
)
from particles.distribution.settling.stem_scale import on_scale, scale_correction
from particles.distribution.settling.water import (
    REFERENCE_C,
    WATER_20_G_CM3,
    apparent_density_g_cm3,
    solution_density_g_cm3,
)

Number = TypeVar("Number", float, NDArray[np.float64])
SCALE_DENSITY_G_CM3 = 2.65
"""Particle density the 152H scale is made for."""
G_L_PER_KG_M3 = SCALE_DENSITY_G_CM3 / (SCALE_DENSITY_G_CM3 - WATER_20_G_CM3)
"""152H scale per density of the liquid, in the water of 20 C that both stems are made for: one kg/m³ shows as
1/0.6233 g/L."""


def density_factor(particle_density_g_cm3: Number) -> Number:
    """Factor `a` from the 152H scale to soil of another density, computed and never looked up. [-]"""
    particle = particle_density_g_cm3 / (particle_density_g_cm3 - WATER_20_G_CM3)
    return particle * (SCALE_DENSITY_G_CM3 - WATER_20_G_CM3) / SCALE_DENSITY_G_CM3


def concentration_factor(scale: HydrometerScale, particle_density_g_cm3: Number) -> Number:
    """
    Soil per unit of corrected reading above zero.

    152H: `a`, per g/L. 151H: rho_w rho_s / (rho_s - rho_w), per 0.001 of relative density. Both take water at 20 C, so
    that one suspension gives one figure; the customary Gs/(Gs - 1) of the 151H takes it as 1 g/cm³, 0.3 % more.
    """
    if scale is HydrometerScale.GRAMS_PER_LITRE:
        return density_factor(particle_density_g_cm3)
    return WATER_20_G_CM3 * particle_density_g_cm3 / (particle_density_g_cm3 - WATER_20_G_CM3)


def soil_per_scale_unit_g_l(scale: HydrometerScale) -> float:
    """Soil of 2.65 g/cm³ behind one unit of the stem, 1 on a 152H and about 1600 on a 151H. [g/L]"""
    if scale is HydrometerScale.GRAMS_PER_LITRE:
        return 1.0
    return 1000.0 * WATER_20_G_CM3 * G_L_PER_KG_M3


def above_zero(scale: HydrometerScale, reading: float) -> float:
    """Reading above clear water in graduations: [g/L] on a 152H, thousandths of relative density on a 151H."""
    return reading if scale is HydrometerScale.GRAMS_PER_LITRE else (reading - 1.0) * 1000.0


def temperature_difference_correction(
    scale: HydrometerScale, temperature_c: float, blank_temperature_c: float
) -> float:
    """
    Reading that a hydrometer loses in a suspension warmer than its blank, by the density of water, source [2].

    It is added to reading less blank, in the unit of `above_zero`. Positive when the suspension is the warmer one.
    """
    lighter_kg_m3 = 1000.0 * (
        apparent_density_g_cm3(blank_temperature_c) - apparent_density_g_cm3(temperature_c)
    )
    if scale is HydrometerScale.GRAMS_PER_LITRE:
        return lighter_kg_m3 * G_L_PER_KG_M3
    return lighter_kg_m3 / WATER_20_G_CM3


def dispersant_shift(scale: HydrometerScale, dispersant_g_l: float) -> float:
    """Rise of a reading by the dispersant in the liquid at 20 C, in the unit of `above_zero`."""
    heavier_kg_m3 = 1000.0 * (solution_density_g_cm3(REFERENCE_C, dispersant_g_l) - WATER_20_G_CM3)
    if scale is HydrometerScale.GRAMS_PER_LITRE:
        return heavier_kg_m3 * G_L_PER_KG_M3
    return heavier_kg_m3 / WATER_20_G_CM3


def blank_liquid_correction(record: RunRecord) -> float:
    """
    Added to a blank whose cylinder holds the dispersant in another volume, to make it one of the run's own liquid.

    In the unit of `above_zero`; 0 when both hold as much of it.
    """
    if record.blank_dispersant_g_l is None:
        return 0.0
    scale = record.hydrometer.scale
    return dispersant_shift(scale, record.dispersant_g_l) - dispersant_shift(
        scale, record.blank_dispersant_g_l
    )


def has_its_correction(record: RunRecord, point: ReadingPoint) -> bool:
    """Whether the figure the run's rule needs was written down for this reading."""
    if record.correction is Correction.MEASURED_BLANK:
        return point.blank_reading is not None
    return record.correction is not Correction.COMPOSITE or point.composite_correction_graduations is not None


def correction_taken(record: RunRecord, point: ReadingPoint) -> float | None:
    """
    Everything taken from one reading under the run's single rule; None when its figure is missing.

    Same unit as `above_zero`. The correction of the instrument's scale is in it, once, for reading and blank
    alike. The meniscus is no part of it: it cancels against the blank, and enters the depth alone.
    """
    taken = rule_correction(record, point)
    if taken is None or point.reading is None or not record.hydrometer.scale_corrections:
        return taken
    per_unit = 1.0 if record.hydrometer.scale is HydrometerScale.GRAMS_PER_LITRE else 1000.0
    return taken - per_unit * scale_correction(record.hydrometer, point.reading)


def rule_correction(record: RunRecord, point: ReadingPoint) -> float | None:
    """Correction by the run's rule, without the scale correction of the reading; that of its blank is in it."""
    scale = record.hydrometer.scale
    if record.correction is Correction.MEASURED_BLANK:
        if point.blank_reading is None:
            return None
        blank_c = point.at_c if point.blank_temperature_c is None else point.blank_temperature_c
        blank = above_zero(scale, on_scale(record.hydrometer, point.blank_reading))
        same_liquid = blank + blank_liquid_correction(record)
        return same_liquid - temperature_difference_correction(scale, point.at_c, blank_c)
    if record.correction is Correction.COMPOSITE:
        return point.composite_correction_graduations
    if record.correction is Correction.SEPARATE:
        line = record.temperature_correction
        added = line.intercept_graduations + line.slope_graduations_per_c * point.at_c if line else 0.0
        return record.zero_correction_graduations - added
    return 0.0


def effective_depth_cm(hydrometer: Hydrometer, reading: float) -> float:
    """
    Depth the reading speaks for, at the true liquid level R' = reading + meniscus. [cm]

    The meniscus is added here and nowhere else. The blank is not subtracted, and the scale correction not
    applied: the depth is that of the mark the liquid stands at. Error outside the points of a calibration table.
    """
    level = reading + hydrometer.meniscus_correction
    depth = hydrometer.depth
    if isinstance(depth, DepthTable):
        return _between(depth, level)
    base = 0.0 if hydrometer.scale is HydrometerScale.GRAMS_PER_LITRE else 1.0
    depth_cm = depth.intercept_cm - depth.slope_cm_per_unit * (level - base)
    if depth_cm <= 0.0:
        raise DepthNotPositiveError(
            "The instrument's depth line gives no depth for this reading",
            f"{depth_cm:.2f} cm at {level:g}",
            "Check the reading and the depth calibration of the hydrometer.",
        )
    return depth_cm


def depth_per_unit_cm(hydrometer: Hydrometer, reading: float) -> float:
    """How much the depth shrinks per scale unit near a reading. [cm per scale unit]"""
    depth = hydrometer.depth
    if not isinstance(depth, DepthTable):
        return depth.slope_cm_per_unit
    k = _segment(depth, reading + hydrometer.meniscus_correction)
    return (depth.depths_cm[k] - depth.depths_cm[k + 1]) / (depth.readings[k + 1] - depth.readings[k])


def _segment(table: DepthTable, level: float) -> int:
    return max(sum(r <= level for r in table.readings[:-1]) - 1, 0)


def _between(table: DepthTable, level: float) -> float:
    if not table.readings[0] - 1e-9 <= level <= table.readings[-1] + 1e-9:
        raise DepthOutsideTableError(
            f"Reading with meniscus outside the depth table, {table.readings[0]:g} to {table.readings[-1]:g}",
            f"{level:g}",
            "Use the instrument's own table over the whole stem, or check the reading.",
        )
    k = _segment(table, level)
    share = (level - table.readings[k]) / (table.readings[k + 1] - table.readings[k])
    return table.depths_cm[k] + share * (table.depths_cm[k + 1] - table.depths_cm[k])
