"""Findings on the level of the blank: what its dispersant gives, and how it moves with its temperature."""

from __future__ import annotations

from math import sqrt
from statistics import fmean, median

from particles.distribution.inputs.noise import BlankLine, blank_line, reading_sd_g_l, unit_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Finding, HydrometerScale, RunRecord, Severity
from particles.distribution.settling.hydrometer import soil_per_scale_unit_g_l
from particles.distribution.settling.water import REFERENCE_C, WATER_20_G_CM3, solution_density_g_cm3

LEAST_DISPERSANT_G_L = 1.0
WATER_SHARE = 0.4
"""A blank below this share of what the dispersant gives was made without it; common practice."""
TREND_LEAST = 4
SLOPE_LIMIT_SD = 3.3
SLOPE_KNOWN_TO = 0.6
"""The test against temperature says nothing when the slope is known no better than this. [-]"""


def level_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """blank_without_dispersant, blank_level, blank_drift, blank_trend, blank_against_temperature, blank_copied."""
    line = blank_line(record)
    if line is None:
        return []
    own = reading_sd_g_l(record, method)
    moving = _drift(method, line, own) + _trend(record, method, line, own)
    return (
        _level(record, method, line)
        + moving
        + _against_temperature(line, own)
        + _copied(record, method, line)
    )


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
    if record.dispersant_g_l <= LEAST_DISPERSANT_G_L:
        return []
    expected = expected_level_g_l(record, record.dispersant_g_l)
    water = expected_level_g_l(record, 0.0)
    apart = line.level_g_l - expected
    said = (
        f"The blank stands at {line.level_g_l:.1f} g/L at 20 °C; {record.dispersant_g_l:g} g/L of dispersant "
        f"gives {expected:.1f}, water alone {water:.1f}."
    )
    if line.level_g_l - water < WATER_SHARE * (expected - water):
        step = "Ask whether the blank was made with dispersant; the batch waits for the answer."
        return [Finding("blank_without_dispersant", Severity.STOP, said, step, line.level_g_l, "g/L")]
    if abs(apart) > method.limits.blank_level_apart_g_l:
        step = "Check the dispersant's concentration and lot, its volume, and the zero of the hydrometer."
        return [Finding("blank_level", Severity.WARN, said, step, apart, "g/L")]
    return []


def _drift(method: MethodEdition, line: BlankLine, own: float) -> list[Finding]:
    """The blank reading furthest from the blank's own level."""
    index, apart = max(line.apart_g_l.items(), key=lambda pair: abs(pair[1]))
    # The median it is compared with carries its own noise, pi / 2n of a reading's variance.
    noise = own * sqrt(1.0 + 1.57 / len(line.apart_g_l))
    if len(line.apart_g_l) == 2:
        (_, was), (index, now) = sorted(line.apart_g_l.items())
        apart, noise = now - was, own * sqrt(2.0)
    if round(abs(apart), 6) <= method.limits.blank_drift_g_l:
        return []
    beyond = abs(apart) > method.limits.noise_warn_sd * noise * 1.13
    sentence = f"One blank lies {apart:+.2f} g/L off the blank's own level at its temperature"
    sentence += "." if beyond else "; reading noise can do as much."
    step = "Look for a typing slip, another cylinder, evaporation, a dirty stem or a blank that was not read."
    severity = Severity.WARN if beyond else Severity.NOTE
    return [Finding("blank_drift", severity, sentence, step, apart, "g/L", index)]


def _trend(record: RunRecord, method: MethodEdition, line: BlankLine, own: float) -> list[Finding]:
    """Earlier against later half of the blanks."""
    values = [line.apart_g_l[index] for index in sorted(line.apart_g_l)]
    n = len(values)
    if n < TREND_LEAST:
        return []
    moved = fmean(values[n - n // 2 :]) - fmean(values[: n // 2])
    noise = own * sqrt(2.0 / (n // 2))
    if abs(moved) <= max(method.limits.blank_drift_g_l, method.limits.noise_warn_sd * 1.1 * noise):
        return []
    sentence = f"The blank moved by {moved:+.2f} g/L from the first to the second half of the run, temperature apart."
    step = "Look for evaporation, contamination, copied temperatures or a blank of another lot."
    return [Finding("blank_trend", Severity.WARN, sentence, step, moved, "g/L", max(line.apart_g_l))]


def _against_temperature(line: BlankLine, own: float) -> list[Finding]:
    """Observed against predicted move of the blank: the slope must be 1."""
    middle = fmean(line.shift_g_l.values())
    moves = {index: shift - middle for index, shift in line.shift_g_l.items()}
    power = sum(move**2 for move in moves.values())
    if power == 0.0 or own / sqrt(power) > SLOPE_KNOWN_TO:
        return []
    level = fmean(line.apart_g_l.values())
    slope = 1.0 + sum(moves[k] * (line.apart_g_l[k] - level) for k in moves) / power
    if abs(slope - 1.0) <= SLOPE_LIMIT_SD * own / sqrt(power):
        return []
    expected = max(moves.values()) - min(moves.values())
    sentence = (
        f"The blank followed its temperature {slope:.1f} times as much as water does; {expected:.1f} g/L was "
        "expected over the run."
    )
    step = "Check sign and thermometer of the blank, and that it was read each time."
    return [Finding("blank_against_temperature", Severity.WARN, sentence, step, slope, "")]


def _copied(record: RunRecord, method: MethodEdition, line: BlankLine) -> list[Finding]:
    """One blank figure throughout although the temperature moved."""
    shown = {record.readings[index].blank_reading for index in line.apart_g_l}
    expected = max(line.shift_g_l.values()) - min(line.shift_g_l.values())
    limit = method.limits.blank_copied_moved_g_l
    if len(shown) > 1 or len(line.apart_g_l) < TREND_LEAST or expected <= limit:
        return []
    value = median(v for v in shown if v is not None)
    sentence = (
        f"All {len(line.apart_g_l)} blanks read {value:g} although their temperature should have moved them by "
        f"{expected:.1f} g/L."
    )
    step = "Check that the blank was read each time, not copied."
    return [Finding("blank_copied", Severity.WARN, sentence, step, expected, "g/L")]
