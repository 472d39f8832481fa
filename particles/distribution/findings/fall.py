"""Findings on how a run falls: rising, gelled, stuck, flocculated, below nothing."""

from __future__ import annotations

from itertools import groupby, pairwise
from math import inf, log, pi, sqrt
from typing import Any

from particles.distribution.answer import Finding, Severity, SizePoint
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.late_rise import LATE_RISE_FROM_S
from particles.distribution.inputs.noise import blank_line, reading_sd_g_l, steady_nets_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Correction, RunRecord

Points = tuple[SizePoint, ...]
GEL_FROM_S = LATE_RISE_FROM_S
"""A suspension gels late; before, it is another fault. *Common practice*. [s]"""
LATE_FROM_S = 3600.0
"""A last reading before it says nothing of the clay. *Common practice*. [s]"""
CLEAR_SHARE = 0.1
"""Less than this share of the first reading is almost clear. *Common practice*. [-]"""
MUCH_EARLY_PCT = 20.0
"""So much at the start and so little at the end is either a soil without clay or flocculation."""
STUCK_TOO_MANY = 7
STUCK_LEAST_G_L = 3.0
"""So many equal readings are odd by themselves, unless the water is clear."""
STUCK_ALL_DAY_S = 72_000.0
"""Equal from the first reading to the last, over so long: as odd, however few."""
STUCK_TREND_SHARE = 0.25
"""A curve that was falling goes on falling at no less than this share of its rate; common practice."""
LEAST_HALVING = 0.5
"""A step in size smaller than this share of a halving is judged as one of it. [-]"""


def falling_findings(record: RunRecord, method: MethodEdition, points: Points) -> list[Finding]:
    """Findings on a run that rises, gels, sticks, falls too fast, clears too soon or falls below zero."""
    nets = steady_nets_g_l(record, points)
    reading_sd = reading_sd_g_l(record, method)
    found = _rising(method, points, nets, reading_sd) + _gel(method, points, nets, reading_sd)
    found += _stuck(method, points, nets, reading_sd) + _fast_fall(method, points)
    return found + _clear_late(record, method, points) + _negative(record, method, points, nets, reading_sd)


def _rising(
    method: MethodEdition, points: Points, nets: tuple[float, ...], reading_sd: float
) -> list[Finding]:
    limits, noise = method.limits, sqrt(2.0) * reading_sd
    found: list[Finding] = []
    for (before, was), (after, now) in pairwise(zip(points, nets, strict=True)):
        # Rounded so that a rise of exactly one scale step is not pushed over by the last binary digit.
        rise = round(now - was, 6)
        if rise <= limits.rise_warn_g_l:
            continue
        severity, variant = Severity.NOTE, "within_noise"
        if rise > limits.rise_warn_sd * noise:
            late = after.elapsed_s >= LATE_RISE_FROM_S
            severity, variant = Severity.WARN, "late" if late else "beyond_noise"
        if rise > max(limits.rise_stop_g_l, limits.rise_stop_sd * noise):
            severity = Severity.STOP
        found.append(
            finding(
                "rising_reading",
                variant=variant,
                severity=severity,
                number=rise,
                reading_index=after.reading_index,
                before_g_l=was,
                before_s=before.elapsed_s,
                after_g_l=now,
                after_s=after.elapsed_s,
            )
        )
    return found


def _gel(method: MethodEdition, points: Points, nets: tuple[float, ...], reading_sd: float) -> list[Finding]:
    """Late readings that stay above an earlier one, to the end and more than once."""
    limit = max(method.limits.rise_stop_g_l, method.limits.noise_stop_sd * sqrt(2.0) * reading_sd)
    for k in range(1, len(points) - 1):
        above = min(nets[k:]) - min(nets[:k])
        if points[k].elapsed_s >= GEL_FROM_S and above > limit:
            return [
                finding(
                    "gel_suspected",
                    number=above,
                    reading_index=points[k].reading_index,
                    elapsed_s=points[k].elapsed_s,
                )
            ]
    return []


def _stuck(
    method: MethodEdition, points: Points, nets: tuple[float, ...], reading_sd: float
) -> list[Finding]:
    """Equal values in a row where the curve before them was still falling."""
    found: list[Finding] = []
    for value, run in groupby(range(len(points)), key=lambda k: points[k].reading):
        same = list(run)
        first, last = same[0], same[-1]
        span_s = points[last].elapsed_s - points[first].elapsed_s
        if len(same) < method.limits.stuck_readings or span_s < method.limits.stuck_span_s:
            continue
        expected = _expected_fall_g_l(points, nets, first, last)
        # Without silt nothing falls from the first reading to the last; but then all of the portion is sand or clay.
        all_day = len(same) == len(points) and span_s >= STUCK_ALL_DAY_S
        too_many = (all_day or len(same) >= STUCK_TOO_MANY) and nets[first] > STUCK_LEAST_G_L
        if not too_many and expected <= method.limits.noise_warn_sd * sqrt(2.0) * reading_sd:
            continue
        due: dict[str, Any] = {"expected_g_l": expected} if expected > 0.0 else {}
        found.append(
            finding(
                "stuck_reading",
                variant="fall_due" if due else "too_many",
                number=float(len(same)),
                reading_index=points[last].reading_index,
                reading=value,
                span_h=span_s / 3600.0,
                **due,
            )
        )
    return found


def _expected_fall_g_l(points: Points, nets: tuple[float, ...], first: int, last: int) -> float:
    """What the trend before the equal values would still have given, no more than is left. [g/L]"""
    if first == 0:
        return 0.0
    # The lower of the rates over the last one and two steps: a narrow silt ends as steeply as it fell.
    rate = min(
        (nets[start] - nets[first]) / log(points[first].elapsed_s / points[start].elapsed_s)
        for start in {first - 1, max(first - 2, 0)}
    )
    due = STUCK_TREND_SHARE * rate * log(points[last].elapsed_s / points[first].elapsed_s)
    return min(due, nets[first])


def _fast_fall(method: MethodEdition, points: Points) -> list[Finding]:
    limits = method.limits
    found: list[Finding] = []
    for before, after in pairwise(points):
        ratio = before.diameter_um / after.diameter_um
        fall = before.percent_finer - after.percent_finer
        most = limits.fast_fall_pct_per_halving * max(ratio - 1.0, LEAST_HALVING)
        if before.diameter_um <= limits.fast_fall_finer_than_um and fall > most:
            found.append(
                finding(
                    "fell_too_fast",
                    number=fall,
                    reading_index=after.reading_index,
                    coarse_um=before.diameter_um,
                    fine_um=after.diameter_um,
                )
            )
    return found


def _clear_late(record: RunRecord, method: MethodEdition, points: Points) -> list[Finding]:
    """Nothing left at the end of a soil that felt clayey."""
    if not points or points[-1].elapsed_s < LATE_FROM_S or record.field_clayey is False:
        return []
    early, late = points[0], points[-1]
    left_pct, index = late.percent_finer, late.reading_index
    if record.field_clayey is None:
        if left_pct >= CLEAR_SHARE * early.percent_finer or early.percent_finer < MUCH_EARLY_PCT:
            return []
        return [
            finding(
                "clear_late",
                number=left_pct,
                reading_index=index,
                early_pct=early.percent_finer,
                early_s=early.elapsed_s,
                late_s=late.elapsed_s,
            )
        ]
    if left_pct >= method.limits.clear_late_pct:
        return []
    return [finding("flocculation_suspected", number=left_pct, reading_index=index, late_s=late.elapsed_s)]


def _negative(
    record: RunRecord, method: MethodEdition, points: Points, nets: tuple[float, ...], reading_sd: float
) -> list[Finding]:
    """Every reading below its blank, and whether the last ones together are more than noise."""
    worst = _below_zero_sds(record, method, nets, reading_sd)
    severity = Severity.NOTE
    if worst > method.limits.noise_warn_sd:
        far = worst > method.limits.noise_stop_sd and min(nets) < method.limits.negative_stop_g_l
        severity = Severity.STOP if far else Severity.WARN
    lowest = min((point.concentration_g_l for point in points), default=0.0)
    return [
        finding(
            "negative_reading",
            severity=Severity.WARN
            if severity is Severity.STOP and point.concentration_g_l > lowest
            else severity,
            number=point.concentration_g_l,
            reading_index=point.reading_index,
            elapsed_s=point.elapsed_s,
        )
        for point in points
        if point.concentration_g_l < 0.0
    ]


def _below_zero_sds(
    record: RunRecord, method: MethodEdition, nets: tuple[float, ...], reading_sd: float
) -> float:
    """How far the mean of the last readings, however many, lies below zero, in its standard deviations."""
    shared = method.uncertainties.blank_g_l if record.correction is Correction.MEASURED_BLANK else 0.0
    line = blank_line(record)
    blanks = len(line.difference_g_l) * 2.0 / pi if line else 1.0
    worst = 0.0
    for count in range(1, len(nets) + 1):
        single = (
            reading_sd**2 / count + (reading_sd**2 / blanks if line else reading_sd**2 / count) + shared**2
        )
        below = -sum(nets[-count:]) / count
        if below > 0.0:
            worst = max(worst, below / sqrt(single) if single else inf)
    return worst
