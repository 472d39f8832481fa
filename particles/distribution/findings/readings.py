"""Findings on the readings of one run: what a person must know before the figures are believed."""

from __future__ import annotations

from math import sqrt

from particles.distribution.answer import Finding, Severity, SizePoint
from particles.distribution.curve.points import largest_adjustment_pct
from particles.distribution.findings.catalogue import finding
from particles.distribution.findings.fall import falling_findings
from particles.distribution.findings.needed import absent_slots
from particles.distribution.findings.start import timer_findings
from particles.distribution.findings.temperature import temperature_findings
from particles.distribution.findings.typing import typing_findings
from particles.distribution.inputs.late_rise import rises_off_the_stem
from particles.distribution.inputs.noise import net_sd_g_l, percent_per_g_l
from particles.distribution.inputs.portion import PortionMass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.slots import slot_of
from particles.distribution.record import ReadingPoint, ReadingState, RunRecord


def run_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """Findings of slots, times and temperatures, before anything is computed."""
    found = absent_slots(record, method) + slot_findings(record) + schedule_findings(record, method)
    return found + temperature_findings(record, method)


def slot_findings(record: RunRecord) -> list[Finding]:
    """reading_missed, above_scale, below_scale: slots that hold no usable number."""
    found: list[Finding] = []
    last = len(record.readings) - 1
    for index, point in enumerate(record.readings):
        if point.state is ReadingState.MISSED:
            severity = Severity.WARN if index in (0, 1, last) else Severity.NOTE
            found.append(
                finding("reading_missed", severity=severity, number=point.elapsed_s, reading_index=index)
            )
        else:
            found += _off_the_stem(record, index, point)
    return found


def _off_the_stem(record: RunRecord, index: int, point: ReadingPoint) -> list[Finding]:
    low, high = record.hydrometer.scale_minimum, record.hydrometer.scale_maximum
    value, at_s = point.reading, point.elapsed_s
    late = "_late" if rises_off_the_stem(record, index) else ""
    if value is None and point.state is ReadingState.ABOVE_SCALE:
        return [
            finding("above_scale", variant=f"unread{late}", number=high, reading_index=index, elapsed_s=at_s)
        ]
    if value is not None and (point.state is ReadingState.ABOVE_SCALE or value > high):
        return [
            finding(
                "above_scale",
                variant=f"read{late}",
                number=high,
                reading_index=index,
                elapsed_s=at_s,
                reading=value,
            )
        ]
    if value is not None and value < low:
        return [finding("below_scale", number=value, reading_index=index, elapsed_s=at_s, start=low)]
    return []


def schedule_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """off_schedule: a reading outside the window of its nominal time."""
    found: list[Finding] = []
    for index, point in enumerate(record.readings):
        if point.state is ReadingState.MISSED:
            continue
        nominal_s = slot_of(method, point.elapsed_s)
        if nominal_s is None:
            continue
        late_s = round(point.elapsed_s - nominal_s, 6)
        if abs(late_s) > method.window_s(nominal_s) + 1e-9:
            found.append(
                finding(
                    "off_schedule",
                    number=late_s,
                    reading_index=index,
                    nominal_s=nominal_s,
                    off_s=abs(late_s),
                    side="late" if late_s > 0.0 else "early",
                )
            )
    return found


def point_findings(
    record: RunRecord, method: MethodEdition, points: tuple[SizePoint, ...], mass: PortionMass
) -> list[Finding]:
    """Findings of the computed points: more_than_portion, beyond_stokes, and those of fall, typing and start."""
    found = _more_than_portion(record, method, points, mass)
    found += falling_findings(record, method, points) + typing_findings(record, method, points)
    found += timer_findings(record, method, points, mass.mass_g)
    return found + _beyond_stokes(points, method.limits.reynolds)


def _more_than_portion(
    record: RunRecord, method: MethodEdition, points: tuple[SizePoint, ...], mass: PortionMass
) -> list[Finding]:
    all_g_l = mass.mass_g / (record.volume_ml / 1000.0)
    noise = net_sd_g_l(record, method) * percent_per_g_l(record, 100.0 * record.volume_ml / 1000.0)
    most_g_l = max(method.limits.portion_excess * all_g_l, all_g_l + method.limits.noise_warn_sd * noise)
    return [
        finding(
            "more_than_portion",
            number=point.concentration_g_l,
            reading_index=point.reading_index,
            elapsed_s=point.elapsed_s,
            all_g_l=all_g_l,
            most_g_l=most_g_l,
        )
        for point in points
        if point.concentration_g_l > most_g_l
    ]


def _beyond_stokes(points: tuple[SizePoint, ...], limit: float) -> list[Finding]:
    return [
        finding(
            "beyond_stokes",
            number=point.reynolds,
            reading_index=point.reading_index,
            diameter_um=point.diameter_um,
        )
        for point in points
        if point.reynolds > limit
    ]


def smoothing_findings(
    record: RunRecord, method: MethodEdition, mass: PortionMass, points: tuple[SizePoint, ...]
) -> list[Finding]:
    """curve_adjusted: how much the smoothing had to move, and whether reading noise can do as much."""
    limits, largest_pct = method.limits, largest_adjustment_pct(points)
    if largest_pct <= limits.adjustment_warn_pct:
        return []
    noise = _pooled_share(points) * net_sd_g_l(record, method) * percent_per_g_l(record, mass.mass_g)
    severity = Severity.NOTE
    if largest_pct > limits.noise_warn_sd * noise:
        severity = Severity.WARN
    if largest_pct > max(limits.adjustment_stop_pct, limits.noise_stop_sd * noise):
        severity = Severity.STOP
    return [finding("curve_adjusted", severity=severity, number=largest_pct)]


def _pooled_share(points: tuple[SizePoint, ...]) -> float:
    """
    Standard deviation of the point the smoothing moved most, less the mean it was pooled into, per that of a point.

    Of k points with one noise it is sqrt(1 - 1/k): 0.71 for two that meet half way.
    """
    farthest = max(points, key=lambda point: abs(point.percent_finer_curve - point.percent_finer))
    pooled = sum(point.percent_finer_curve == farthest.percent_finer_curve for point in points)
    return sqrt(1.0 - 1.0 / pooled)


def method_findings(method: MethodEdition) -> list[Finding]:
    """by_time_only: the edition's results carry names of time, not of size."""
    if method.certifiable:
        return []
    return [finding("by_time_only", title=method.title)]
