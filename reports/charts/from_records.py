"""
Descriptions of charts made from stored records. Nothing is computed or asked for here: stored values are put in place.

`NoChartError` says in a sentence why there is nothing to draw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils import timezone

from batches.limits.judging import Judged
from batches.limits.keys import Kind
from batches.limits.rules import Chart
from batches.models import Reading, Result, Run
from particles.distribution import USDA_POLYGONS, HydrometerScale, MethodEdition
from particles.distribution.causes.cause import Effect
from particles.distribution.texture.usda import USDA_LIMITS_UM
from reports.charts import (
    ControlPoint,
    RawReading,
    TrianglePoint,
    before_after,
    control_chart,
    settling_run,
    size_curve,
    small_curve,
    texture_triangle,
)
from reports.charts.look import Spec
from reports.content.context import ON_A_LINE, CurveRow
from reports.paper.pdf import ChartFrame

MOST_POINTS = 60
"""Newest points a chart of quality control shows; the table has them all."""
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


def chart_of_limits(chart: Chart, title: str) -> Spec:
    """
    The newest points of one chart of quality control, with the limits that were in force at the time of each.

    Raises
    ------
    NoChartError : no point yet.
    """
    judged = chart.judged[-MOST_POINTS:]
    if not judged:
        raise NoChartError("No batch has given a point to this chart yet.")
    waiting = sum(each.waits_for_answer for each in judged)
    said = f"{len(judged)} points, {waiting} waiting for an answer; they are in the table."
    return control_chart(
        [_control_point(each, chart) for each in judged],
        title=title,
        unit=chart.key.quantity.unit,
        description=said,
    )


def _control_point(each: Judged, chart: Chart) -> ControlPoint:
    point, limits = each.point, each.limits
    words = [fired.rule.name for fired in each.fired]
    if point.why_out:
        words.append(point.why_out)
    if point.questioned:
        words.append(f"open again: {point.questioned}")
    if point.answer is not None:
        words.append(f"answered by {point.answer.by}: {point.answer.words}")
    lines: dict[str, Any] = {}
    if limits is not None:
        lines = {
            "centre": limits.centre,
            "high_warn": limits.high[0],
            "high_action": limits.high[1],
            "version": limits.version,
        }
        if chart.key.quantity.kind is not Kind.DUPLICATES:
            lines |= {"low_action": limits.low[0], "low_warn": limits.low[1]}
    return ControlPoint(
        batch=point.batch,
        day=f"{timezone.localtime(point.at):%-d %b %Y}",
        words="; ".join(words) or "within its limits"
        if limits is not None
        else "; ".join(words) or "no limits yet",
        value=point.value,
        weighted_mean=each.weighted_mean,
        weight=each.weight,
        left_out=not each.counts and not each.waits_for_answer,
        **lines,
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
