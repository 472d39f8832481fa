"""What no hydrometer can be: checked before any reading of it is used."""

from __future__ import annotations

from itertools import pairwise

from .errors import InstrumentOutOfRangeError
from .quantities import DepthTable, Hydrometer, HydrometerScale

MENISCUS_POSSIBLE = {HydrometerScale.GRAMS_PER_LITRE: 3.0, HydrometerScale.RELATIVE_DENSITY: 0.003}
"""Highest meniscus on the scale; usual are 0.5 to 1 g/L, common practice."""
DEEPEST_CM = 40.0
"""Deeper than any sedimentation cylinder, common practice."""
_CALIBRATION = "Check the calibration of the hydrometer."


def refuse_impossible_instrument(stem: Hydrometer) -> None:
    """InstrumentOutOfRangeError for the first thing that cannot be."""
    highest = MENISCUS_POSSIBLE[stem.scale]
    if not 0.0 <= stem.meniscus_correction <= highest:
        raise InstrumentOutOfRangeError(
            f"Meniscus correction outside 0 to {highest:g} scale units",
            f"{stem.meniscus_correction:g}",
            "Enter its height on the scale as a positive number.",
        )
    if stem.insertion_displacement_cm < 0.0:
        raise InstrumentOutOfRangeError(
            "The rise of the liquid around the bulb is below zero",
            f"{stem.insertion_displacement_cm:g} cm",
            "It is half of bulb volume over cylinder area.",
        )
    if stem.scale_minimum >= stem.scale_maximum:
        raise InstrumentOutOfRangeError(
            "The stem's scale does not rise",
            f"{stem.scale_minimum:g} to {stem.scale_maximum:g}",
            "Enter its lowest and highest mark.",
        )
    if isinstance(stem.depth, DepthTable):
        _refuse_table(stem.depth)
    elif stem.depth.slope_cm_per_unit <= 0.0 or not 0.0 < stem.depth.intercept_cm <= DEEPEST_CM:
        raise InstrumentOutOfRangeError(
            f"A depth line must start between 0 and {DEEPEST_CM:g} cm and fall as the reading rises",
            f"{stem.depth.intercept_cm:g} cm less {stem.depth.slope_cm_per_unit:g} cm per unit",
            _CALIBRATION,
        )


def _refuse_table(table: DepthTable) -> None:
    marks, depths = table.readings, table.depths_cm
    shown = ", ".join(f"{depth:g} cm at {mark:g}" for mark, depth in zip(marks, depths, strict=False))
    if len(marks) < 2 or len(marks) != len(depths):
        raise InstrumentOutOfRangeError(
            "A depth table needs two points or more, each with reading and depth",
            f"{len(marks)} readings, {len(depths)} depths",
            _CALIBRATION,
        )
    if any(b <= a for a, b in pairwise(marks)) or any(b >= a for a, b in pairwise(depths)):
        raise InstrumentOutOfRangeError(
            "In a depth table readings must rise and depths fall", shown, _CALIBRATION
        )
    if not 0.0 < depths[-1] < depths[0] <= DEEPEST_CM:
        raise InstrumentOutOfRangeError(
            f"Depths must lie between 0 and {DEEPEST_CM:g} cm", shown, _CALIBRATION
        )
