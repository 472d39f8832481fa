"""Refusal of what no hydrometer can be, before any reading of it is used."""

from __future__ import annotations

from itertools import pairwise

from particles.distribution.errors import InstrumentOutOfRangeError
from particles.distribution.possible import (
    DEEPEST_CM,
    FALL_POSSIBLE_CM,
    MENISCUS_POSSIBLE,
    STEM_POSSIBLE,
)
from particles.distribution.record import DepthLine, DepthTable, Hydrometer

_CALIBRATION = "Check the calibration of the hydrometer."


def refuse_impossible_instrument(stem: Hydrometer) -> None:
    """InstrumentOutOfRangeError for the first thing that cannot be."""
    meniscus, stem_marks, fall = (
        possible[stem.scale] for possible in (MENISCUS_POSSIBLE, STEM_POSSIBLE, FALL_POSSIBLE_CM)
    )
    if stem.meniscus_correction not in meniscus:
        raise InstrumentOutOfRangeError(
            f"Meniscus correction outside {meniscus}",
            f"{stem.meniscus_correction:g}",
            "Enter its height on the scale as a positive number.",
        )
    if stem.insertion_displacement_cm < 0.0:
        raise InstrumentOutOfRangeError(
            "The rise of the liquid around the bulb is below zero",
            f"{stem.insertion_displacement_cm:g} cm",
            "It is half of bulb volume over cylinder area.",
        )
    if not stem_marks.low <= stem.scale_minimum < stem.scale_maximum <= stem_marks.high:
        raise InstrumentOutOfRangeError(
            f"The stem of a {stem.scale} must rise between {' and '.join(stem_marks.ends)}",
            f"{stem.scale_minimum:g} to {stem.scale_maximum:g}",
            "Enter its lowest and highest mark.",
        )
    if isinstance(stem.depth, DepthTable):
        _refuse_table(stem.depth)
        falls_cm = [
            (a - b) / (y - x)
            for (x, y), (a, b) in zip(
                pairwise(stem.depth.readings), pairwise(stem.depth.depths_cm), strict=True
            )
        ]
    else:
        _refuse_line(stem.depth)
        falls_cm = [stem.depth.slope_cm_per_unit]
    for fall_cm in falls_cm:
        if fall_cm not in fall:
            raise InstrumentOutOfRangeError(
                f"The depth of a {stem.scale} must fall by {fall} per unit of its scale",
                f"{fall_cm:g} cm",
                "Check the calibration of the hydrometer, and that it is in the units of this stem.",
            )


def _refuse_line(line: DepthLine) -> None:
    if line.slope_cm_per_unit <= 0.0 or not 0.0 < line.intercept_cm <= DEEPEST_CM:
        raise InstrumentOutOfRangeError(
            f"A depth line must start between 0 and {DEEPEST_CM:g} cm and fall as the reading rises",
            f"{line.intercept_cm:g} cm less {line.slope_cm_per_unit:g} cm per unit",
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
