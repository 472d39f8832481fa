"""Findings on the temperatures of the suspension: jumps, and a figure copied all day."""

from __future__ import annotations

from itertools import pairwise
from statistics import mean

from particles.distribution.inputs.noise import blank_g_l, reading_sd_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Finding, ReadingState, RunRecord, Severity

UNCHANGED_READINGS = 10
UNCHANGED_SPAN_S = 72_000.0
LEAST_UNCHANGED = 4
BLANK_MOVED_C = 0.5


def temperature_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """temperature_jump, temperature_unchanged, temperature_copied."""
    return _jumps(record, method) + _unchanged(record, method)


def _jumps(record: RunRecord, method: MethodEdition) -> list[Finding]:
    found: list[Finding] = []
    logged = [(k, point) for k, point in enumerate(record.readings) if point.temperature_c is not None]
    for (_, before), (index, after) in pairwise(logged):
        jump = after.at_c - before.at_c
        if abs(jump) > method.limits.temperature_jump_c:
            sentence = f"The suspension's temperature moved by {jump:+.1f} °C before {after.elapsed_s:g} s."
            step = "Check the thermometer; keep the bench within 2 °C."
            found.append(Finding("temperature_jump", Severity.WARN, sentence, step, jump, "°C", index))
    return found


def _unchanged(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """One temperature all day while the blank says otherwise; noted alone from ten readings on."""
    read = [(k, p) for k, p in enumerate(record.readings) if p.state is ReadingState.READ]
    logged = [p.at_c for _, p in read]
    if len(logged) < LEAST_UNCHANGED or len(set(logged)) > 1:
        return []
    span_s = read[-1][1].elapsed_s - read[0][1].elapsed_s
    sentence = f"All {len(logged)} temperatures are {logged[0]:g} °C, over {span_s / 3600.0:.1f} h"
    step = "Check that the thermometer was read each time, not copied; settling and blank depend on it."
    number, index = float(len(logged)), read[-1][0]
    many = len(logged) >= UNCHANGED_READINGS
    evidence = _blank_says(record, method)
    if evidence and (many or span_s >= UNCHANGED_SPAN_S):
        sentence = f"{sentence}, while {evidence}."
        return [Finding("temperature_copied", Severity.WARN, sentence, step, number, "", index)]
    if not many:
        return []
    return [Finding("temperature_unchanged", Severity.NOTE, f"{sentence}.", step, number, "", index)]


def _blank_says(record: RunRecord, method: MethodEdition) -> str:
    """What moved although the temperature did not: the blank's own thermometer, or its level."""
    warm = [p.blank_temperature_c for p in record.readings if p.blank_temperature_c is not None]
    if warm and max(warm) - min(warm) > BLANK_MOVED_C:
        return f"that of the blank moved by {max(warm) - min(warm):.1f} °C"
    levels = [blank_g_l(record, p.blank_reading) for p in record.readings if p.blank_reading is not None]
    if len(levels) < LEAST_UNCHANGED:
        return ""
    own, middle = reading_sd_g_l(record, method), mean(levels)
    squares = sum((level - middle) ** 2 for level in levels)
    return (
        f"the blank moved by {max(levels) - min(levels):.1f} g/L"
        if squares > chi_square_limit(len(levels) - 1) * own**2
        else ""
    )


def chi_square_limit(degrees: int, normal_quantile: float = 3.0) -> float:
    """
    Value that a chi-square variable stays under, as a normal one under its quantile; Wilson and Hilferty 1931.

    >>> round(chi_square_limit(8, 1.644854), 2)
    15.5
    """
    share = 2.0 / (9.0 * degrees)
    return float(degrees * (1.0 - share + normal_quantile * share**0.5) ** 3)
