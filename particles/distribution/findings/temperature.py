"""Findings on the temperatures of the suspension: jumps, and a figure copied all day."""

from __future__ import annotations

from itertools import pairwise
from statistics import mean

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.noise import blank_g_l, reading_sd_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ReadingState, RunRecord

UNCHANGED_READINGS = 10
"""So many equal temperatures are worth a note by themselves. *Common practice*."""
UNCHANGED_SPAN_S = 72_000.0
"""Over so long fewer equal ones tell, when the blank moved. *Common practice*. [s]"""
LEAST_UNCHANGED = 4
"""Fewer temperatures, or blanks, tell nothing. *Common practice*."""
BLANK_MOVED_C = 0.5
"""So much more than a thermometer's own noise. *Common practice*. [C]"""


def temperature_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """temperature_jump, temperature_unchanged, temperature_copied."""
    return _jumps(record, method) + _unchanged(record, method)


def _jumps(record: RunRecord, method: MethodEdition) -> list[Finding]:
    found: list[Finding] = []
    logged = [(k, point) for k, point in enumerate(record.readings) if point.temperature_c is not None]
    for (_, before), (index, after) in pairwise(logged):
        jump = after.at_c - before.at_c
        if abs(jump) > method.limits.temperature_jump_c:
            found.append(
                finding("temperature_jump", number=jump, reading_index=index, elapsed_s=after.elapsed_s)
            )
    return found


def _unchanged(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """One temperature all day while the blank says otherwise; noted alone from ten readings on."""
    read = [(k, p) for k, p in enumerate(record.readings) if p.state is ReadingState.READ]
    logged = [p.at_c for _, p in read]
    if len(logged) < LEAST_UNCHANGED or len(set(logged)) > 1:
        return []
    span_s = read[-1][1].elapsed_s - read[0][1].elapsed_s
    number, index, span_h = float(len(logged)), read[-1][0], span_s / 3600.0
    many = len(logged) >= UNCHANGED_READINGS
    evidence = _blank_moved(record, method)
    if evidence is not None and (many or span_s >= UNCHANGED_SPAN_S):
        variant, moved = evidence
        return [
            finding(
                "temperature_copied",
                variant=variant,
                number=number,
                reading_index=index,
                temperature_c=logged[0],
                span_h=span_h,
                moved=moved,
            )
        ]
    if not many:
        return []
    return [
        finding(
            "temperature_unchanged",
            number=number,
            reading_index=index,
            temperature_c=logged[0],
            span_h=span_h,
        )
    ]


def _blank_moved(record: RunRecord, method: MethodEdition) -> tuple[str, float] | None:
    """Variant and size of what moved although the temperature did not: the blank's thermometer [C] or level [g/L]."""
    temperatures_c = [p.blank_temperature_c for p in record.readings if p.blank_temperature_c is not None]
    if temperatures_c and max(temperatures_c) - min(temperatures_c) > BLANK_MOVED_C:
        return "by_thermometer", max(temperatures_c) - min(temperatures_c)
    levels = [blank_g_l(record, p.blank_reading) for p in record.readings if p.blank_reading is not None]
    if len(levels) < LEAST_UNCHANGED:
        return None
    reading_sd, middle = reading_sd_g_l(record, method), mean(levels)
    squares = sum((level - middle) ** 2 for level in levels)
    if squares <= chi_square_limit(len(levels) - 1) * reading_sd**2:
        return None
    return "by_level", max(levels) - min(levels)


def chi_square_limit(degrees: int, normal_quantile: float = 3.0) -> float:
    """
    Value that a chi-square variable stays under, as a normal one under its quantile; Wilson and Hilferty 1931.

    >>> round(chi_square_limit(8, 1.644854), 2)  # the exact one is 15.51
    15.49
    """
    share = 2.0 / (9.0 * degrees)
    return float(degrees * (1.0 - share + normal_quantile * share**0.5) ** 3)
