"""Findings on the level of the blank: what its dispersant gives, and how it moves with its temperature."""

from __future__ import annotations

from math import sqrt
from statistics import fmean
from typing import Any

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.blank_physics import move_findings
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.blank_series import (
    DRIFT_WIDER,
    MEDIAN_VARIANCE,
    SLOPE_KNOWN_TO,
    SLOPE_LIMIT_SD,
    TREND_LEAST,
    TREND_WIDER,
    blank_series,
    series_line,
)
from particles.distribution.inputs.noise import BlankLine, blank_line, reading_sd_g_l, unit_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import HydrometerScale, ReadingState, RunRecord
from particles.distribution.settling.hydrometer import soil_per_scale_unit_g_l
from particles.distribution.settling.water import REFERENCE_C, WATER_20_G_CM3, solution_density_g_cm3

LEAST_DISPERSANT_G_L = 1.0
"""Less of it does not tell a blank from water. *Common practice*. [g/L]"""
WATER_SHARE = 0.4
"""A blank below this share of what the dispersant gives was made without it; common practice."""


def level_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """
    blank_without_dispersant, blank_level, blank_copied, and what moved in the blank.

    That is blank_moved where the blank serves by physics, else blank_drift, blank_trend, blank_against_temperature.
    """
    if method.blank_by_physics:
        return _by_physics(record, method)
    line = blank_line(record)
    if line is None:
        return []
    reading_sd = reading_sd_g_l(record, method)
    return [
        *_level(record, method, line),
        *_drift(method, line, reading_sd),
        *_trend(method, line, reading_sd),
        *_against_temperature(line, reading_sd),
        *_copied(record, method, line),
    ]


def _by_physics(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """The level, also at little or no dispersant, and what moved in it, once."""
    series = blank_series(record)
    line = series_line(series)
    if line is None:
        return []
    copied = _copied_series(record, method, line)
    return [*_level(record, method, line), *(copied or move_findings(record, method))]


def _copied_series(record: RunRecord, method: MethodEdition, line: BlankLine) -> list[Finding]:
    """As `_copied`, over every reading of the blank."""
    shown = {each.reading for each in record.blanks}
    if not record.blanks:
        return _copied(record, method, line)
    return _copied_as(shown, method, line)


def expected_level_g_l(record: RunRecord, dispersant_g_l: float) -> float:
    """Upper edge of the meniscus in that solution at 20 C on a true scale. [g/L]"""
    excess = 1000.0 * (solution_density_g_cm3(REFERENCE_C, dispersant_g_l) - WATER_20_G_CM3)
    scale = record.hydrometer.scale
    per_kg_m3 = soil_per_scale_unit_g_l(HydrometerScale.RELATIVE_DENSITY) / 1000.0 / WATER_20_G_CM3
    meniscus = record.hydrometer.meniscus_correction * unit_g_l(scale)
    if scale is HydrometerScale.RELATIVE_DENSITY:
        meniscus *= 1000.0
    return excess * per_kg_m3 - meniscus


def _level(record: RunRecord, method: MethodEdition, line: BlankLine) -> list[Finding]:
    in_blank_g_l = (
        record.dispersant_g_l if record.blank_dispersant_g_l is None else record.blank_dispersant_g_l
    )
    little = in_blank_g_l <= LEAST_DISPERSANT_G_L
    if little and not method.blank_by_physics:
        return []
    expected_g_l = expected_level_g_l(record, in_blank_g_l)
    water_g_l = expected_level_g_l(record, 0.0)
    difference = line.level_g_l - expected_g_l
    shown: dict[str, Any] = {
        "level_g_l": line.level_g_l,
        "dispersant_g_l": in_blank_g_l,
        "expected_g_l": expected_g_l,
        "water_g_l": water_g_l,
    }
    if not little and line.level_g_l - water_g_l < WATER_SHARE * (expected_g_l - water_g_l):
        return [finding("blank_without_dispersant", number=line.level_g_l, **shown)]
    if abs(difference) > method.limits.blank_level_apart_g_l:
        return [finding("blank_level", number=difference, **shown)]
    return []


def _drift(method: MethodEdition, line: BlankLine, reading_sd: float) -> list[Finding]:
    """The blank reading furthest from the blank's own level."""
    index, difference = max(line.difference_g_l.items(), key=lambda pair: abs(pair[1]))
    # The median it is compared with carries its own noise.
    noise = reading_sd * sqrt(1.0 + MEDIAN_VARIANCE / len(line.difference_g_l))
    if len(line.difference_g_l) == 2:
        (_, was), (index, now) = sorted(line.difference_g_l.items())
        difference, noise = now - was, reading_sd * sqrt(2.0)
    if round(abs(difference), 6) <= method.limits.blank_drift_g_l:
        return []
    beyond = abs(difference) > method.limits.noise_warn_sd * noise * DRIFT_WIDER
    return [
        finding(
            "blank_drift",
            variant="beyond_noise" if beyond else "within_noise",
            severity=Severity.WARN if beyond else Severity.NOTE,
            number=difference,
            reading_index=index,
        )
    ]


def _trend(method: MethodEdition, line: BlankLine, reading_sd: float) -> list[Finding]:
    """Earlier against later half of the blanks."""
    values = [line.difference_g_l[index] for index in sorted(line.difference_g_l)]
    n = len(values)
    if n < TREND_LEAST:
        return []
    moved = fmean(values[n - n // 2 :]) - fmean(values[: n // 2])
    noise = reading_sd * sqrt(2.0 / (n // 2))
    if abs(moved) <= max(method.limits.blank_drift_g_l, method.limits.noise_warn_sd * TREND_WIDER * noise):
        return []
    return [finding("blank_trend", number=moved, reading_index=max(line.difference_g_l))]


def _against_temperature(line: BlankLine, reading_sd: float) -> list[Finding]:
    """Observed against predicted move of the blank: the slope must be 1."""
    middle = fmean(line.shift_g_l.values())
    moves = {index: shift - middle for index, shift in line.shift_g_l.items()}
    power = sum(move**2 for move in moves.values())
    if power == 0.0 or reading_sd / sqrt(power) > SLOPE_KNOWN_TO:
        return []
    level = fmean(line.difference_g_l.values())
    slope = 1.0 + sum(moves[k] * (line.difference_g_l[k] - level) for k in moves) / power
    if abs(slope - 1.0) <= SLOPE_LIMIT_SD * reading_sd / sqrt(power):
        return []
    expected_g_l = max(moves.values()) - min(moves.values())
    return [finding("blank_against_temperature", number=slope, expected_g_l=expected_g_l)]


def _copied(record: RunRecord, method: MethodEdition, line: BlankLine) -> list[Finding]:
    """One blank figure throughout although the temperature moved."""
    read = (p for p in record.readings if p.blank_reading is not None and p.state is not ReadingState.MISSED)
    return _copied_as({p.blank_reading for p in read if p.blank_reading is not None}, method, line)


def _copied_as(shown: set[float], method: MethodEdition, line: BlankLine) -> list[Finding]:
    expected_g_l = max(line.shift_g_l.values()) - min(line.shift_g_l.values())
    limit = method.limits.blank_copied_moved_g_l
    if len(shown) > 1 or len(line.difference_g_l) < TREND_LEAST or expected_g_l <= limit:
        return []
    [reading] = shown
    return [finding("blank_copied", number=expected_g_l, count=len(line.difference_g_l), reading=reading)]
