"""
Descriptions of charts made from stored records. Nothing is computed or asked for here: stored values are put in place.

`NoChartError` says in a sentence why there is nothing to draw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from batches.models import Reading, Result, Run
from batches.quality.own_figure import LOOKED_BACK, standing_pairs
from batches.quality.statistics import StandingPair
from particles.distribution import USDA_POLYGONS, HydrometerScale, MethodEdition
from particles.distribution.causes.cause import Effect
from particles.distribution.inputs.between_run import LEAST_PAIRS, range_limits
from particles.distribution.texture.usda import USDA_LIMITS_UM
from particles.models import MethodEditionRecord
from reports.charts import (
    RangePoint,
    RawReading,
    TrianglePoint,
    before_after,
    duplicate_ranges,
    settling_run,
    size_curve,
    small_curve,
    texture_triangle,
)
from reports.charts.look import Spec
from reports.content.context import ON_A_LINE, CurveRow
from reports.paper.pdf import ChartFrame

FEWEST_PAIRS = 2
CORNERS = ("sand", "silt", "clay")


class NoChartError(LookupError):
    """There is nothing to draw; the sentence says why."""


def frame_of(edition: MethodEdition) -> ChartFrame:
    """Limits of a method edition, and the classes when its fractions are those the triangle is drawn for."""
    fits = (edition.clay_limit_um, edition.sand_limit_um) == USDA_LIMITS_UM
    polygons = {
        name: [dict(zip(CORNERS, corner, strict=True)) for corner in ring]
        for name, ring in USDA_POLYGONS.items()
    }
    return ChartFrame(edition.clay_limit_um, edition.sand_limit_um, polygons if fits else {})


def run_settling(
    run: Run, readings: Sequence[Reading], blank_readings: Sequence[Reading], *, name: str
) -> Spec:
    """
    Raw readings beside the blank's, as read on the stem; `name` is the run's for whoever looks.

    Raises
    ------
    NoChartError : no number yet, or a stem not graduated in g/L.
    """
    hydrometer = run.batch.hydrometer
    if hydrometer.scale != HydrometerScale.GRAMS_PER_LITRE:
        raise NoChartError(
            f"{hydrometer} reads relative density ({hydrometer.scale}) and this chart is drawn in g/L. "
            "The readings are in the table."
        )
    of_run, blank = _numbers(readings), _numbers(blank_readings)
    if not of_run and not blank:
        raise NoChartError(f"No reading of {run} holds a number yet.")
    left_out = len(readings) + len(blank_readings) - len(of_run) - len(blank)
    description = f"{len(of_run)} readings of {name} and {len(blank)} of the blank, as read on the stem."
    if left_out:
        description += f" {left_out} without a number are not drawn."
    return settling_run(of_run, blank, title=f"Settling, {name}", description=description)


def run_curve(run: Run, result: Result | None, *, name: str) -> Spec:
    """The size curve of a run's result."""
    distribution = result.distribution if result else None
    if distribution is None or not distribution.curve:
        raise NoChartError(f"There is no computed size curve for {run}.")
    return _curve(distribution.curve, frame_of(run.batch.method.edition), name, _as_of(result))


def run_small_curve(run: Run, result: Result | None, *, name: str) -> Spec:
    """The size curve of a run's result, as small as a word."""
    distribution = result.distribution if result else None
    if distribution is None or not distribution.curve:
        raise NoChartError(f"There is no computed size curve for {run}.")
    return small_curve(distribution.curve, description=f"Size curve of {name}.")


def cause_curves(run: Run, effect: Effect) -> Spec:
    """Both curves of one run: as recorded, and with a cause put right."""
    if not effect.curve_before or not effect.curve_after:
        raise NoChartError(f"There are no two curves of {run.title} to compare.")
    return before_after(
        effect.curve_before,
        effect.curve_after,
        title="",
        description=f"Size curves of {run.title} as recorded and put right; the figures are in the table.",
    )


def run_triangle(run: Run, result: Result | None, *, name: str) -> Spec:
    """The place of a run's result in the texture triangle."""
    distribution = result.distribution if result else None
    if distribution is None or distribution.fractions is None:
        raise NoChartError(f"There are no sand, silt and clay figures for {run}.")
    parts = distribution.fractions
    point = TrianglePoint(name, parts.sand.value_pct, parts.silt.value_pct, parts.clay.value_pct)
    texture = distribution.texture.name if distribution.texture else ""
    return _triangle(point, texture, frame_of(run.batch.method.edition), _as_of(result))


def duplicates_of_method(method: MethodEditionRecord, fraction: str, at: datetime) -> Spec:
    """
    Differences within the pairs of the last year, from 8 pairs on with limits from the pairs themselves.

    Raises
    ------
    NoChartError : fewer than two pairs.
    """
    pairs = standing_pairs(method, since=at - LOOKED_BACK, until=at)[::-1]
    if len(pairs) < FEWEST_PAIRS:
        raise NoChartError(f"{len(pairs)} pair(s) of “{method}” count; a chart takes {FEWEST_PAIRS}.")
    enough = len(pairs) >= LEAST_PAIRS
    later = "" if enough else f" Limits are drawn from {LEAST_PAIRS} pairs on."
    return duplicate_ranges(
        [_range_point(pair, fraction) for pair in pairs],
        limits=range_limits([pair.of(fraction) for pair in pairs]) if enough else None,
        title=f"Duplicates, {fraction}",
        description=f"Differences of {fraction} in {len(pairs)} pairs; they are in the table.{later}",
    )


def _range_point(pair: StandingPair, fraction: str) -> RangePoint:
    first_pct, duplicate_pct = pair.of(fraction)
    day = timezone.localtime(pair.approved_at)
    return RangePoint(
        f"{pair.lab_number}, {pair.batch_number}, {day:%-d %b %Y}", abs(first_pct - duplicate_pct)
    )


def section_curve(section: Mapping[str, Any], edition: MethodEdition) -> Spec:
    """The size curve of one sample of a stored certificate."""
    if not section["curve"]:
        raise NoChartError(f"The certificate reports no size curve for {section['lab_number']}.")
    points = [CurveRow(**row) for row in section["curve"]]
    return _curve(points, frame_of(edition), section["lab_number"], "As certified.")


def section_triangle(section: Mapping[str, Any], edition: MethodEdition) -> Spec:
    """The place of one sample of a stored certificate in the triangle."""
    parts = [section[f"{name}_pct"] for name in CORNERS]
    if None in parts:
        raise NoChartError(f"The certificate reports no sand, silt and clay for {section['lab_number']}.")
    point = TrianglePoint(section["lab_number"], *parts)
    name = section["texture_class"].removesuffix(ON_A_LINE)
    return _triangle(point, name, frame_of(edition), "As certified.")


def _numbers(readings: Sequence[Reading]) -> list[RawReading]:
    return [
        RawReading(float(each.elapsed_s), float(each.reading))
        for each in readings
        if each.reading is not None and each.elapsed_s is not None
    ]


def _curve(points: Sequence[Any], frame: ChartFrame, label: str, standing: str) -> Spec:
    return size_curve(
        points,
        clay_limit_um=frame.clay_limit_um,
        sand_limit_um=frame.sand_limit_um,
        title=f"Size curve, {label}",
        description=f"{len(points)} points of {label}; they are in the table. {standing}",
    )


def _triangle(point: TrianglePoint, name: str, frame: ChartFrame, standing: str) -> Spec:
    return texture_triangle(
        [point],
        polygons=frame.polygons,
        highlighted_class=name if name in frame.polygons else "",
        title=f"Texture triangle, {point.label}",
        description=f"{point.label} in the texture triangle, class {name or 'not given'}. {standing}",
    )


def _as_of(result: Result | None) -> str:
    assert result is not None
    return f"Computed {timezone.localtime(result.computed_at):%-d %b %Y, %H:%M}."
