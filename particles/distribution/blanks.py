"""Findings on the correction of the readings: the blank above all."""

from __future__ import annotations

from itertools import pairwise

from .hydrometer import soil_per_scale_unit_g_l, warmth_correction
from .methods import MethodEdition
from .quantities import Correction, Finding, HydrometerScale, ReadingPoint, ReadingState, RunRecord, Severity

USUAL_G_L = (0.0, 9.0)
POSSIBLE_G_L = (-3.0, 12.0)
APART_WARN_C = 1.0
APART_WIDE_C = 2.0
DRIFT_LIMIT_G_L = 0.5


def correction_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """no_blank, blank_not_measured, correction_missing and everything `blank_findings` gives."""
    if record.correction is Correction.MEASURED_BLANK:
        return blank_findings(record, method)
    if record.correction is Correction.NONE:
        sentence = (
            "No blank and no correction: clay comes out about 12 percentage points high on 40 g with 5 g/L."
        )
        step = "Read a blank of the same dispersant beside the run."
        return [Finding("no_blank", Severity.STOP, sentence, step)]
    sentence = f"The readings were corrected by {record.correction}, not by a blank measured beside them."
    step = "Figures are for information; read a blank for a certified result."
    found = [Finding("blank_not_measured", Severity.STOP, sentence, step)]
    for index, point in enumerate(record.readings):
        absent = record.correction is Correction.COMPOSITE and point.composite_correction_g_l is None
        if absent and point.state is ReadingState.READ:
            sentence = f"The reading at {point.elapsed_s:g} s has no composite correction; it was not used."
            step = "Enter the correction of that temperature."
            found.append(
                Finding(
                    "correction_missing",
                    Severity.STOP,
                    sentence,
                    step,
                    point.elapsed_s,
                    "s",
                    reading_index=index,
                )
            )
    return found


def blank_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """blank_missing, blank_unusual, blank_impossible, blank_temperature_*, blank_far_in_time, blank_drift."""
    found: list[Finding] = []
    for index, point in enumerate(record.readings):
        if point.state is not ReadingState.READ:
            continue
        if point.blank_reading is None:
            sentence = f"No blank was read for the reading at {point.elapsed_s:g} s; it was not used."
            step = "Read the blank beside it, or repeat the run; nothing stands in for a blank."
            found.append(
                Finding(
                    "blank_missing", Severity.STOP, sentence, step, point.elapsed_s, "s", reading_index=index
                )
            )
            continue
        found += _level(record, index, point.blank_reading) + _temperature(index, point)
        if point.blank_gap_s is not None and point.blank_gap_s > method.blank_window_s:
            sentence = (
                f"The blank was read {point.blank_gap_s / 60.0:.0f} min from the reading at "
                f"{point.elapsed_s:g} s; the method allows {method.blank_window_s / 60.0:.0f} min."
            )
            step = "Check that the temperature had not moved by more than 0.5 °C."
            found.append(
                Finding("blank_far_in_time", Severity.WARN, sentence, step, point.blank_gap_s, "s", index)
            )
    return found + _drift(record)


def blank_g_l(scale: HydrometerScale, blank_reading: float) -> float:
    """A blank on either stem as the g/L a 152H would show."""
    base = 0.0 if scale is HydrometerScale.GRAMS_PER_LITRE else 1.0
    return (blank_reading - base) * soil_per_scale_unit_g_l(scale)


def _level(record: RunRecord, index: int, blank_reading: float) -> list[Finding]:
    shown = blank_g_l(record.hydrometer.scale, blank_reading)
    if USUAL_G_L[0] <= shown <= USUAL_G_L[1]:
        return []
    if POSSIBLE_G_L[0] <= shown <= POSSIBLE_G_L[1]:
        code, severity, limits = "blank_unusual", Severity.WARN, USUAL_G_L
    else:
        code, severity, limits = "blank_impossible", Severity.STOP, POSSIBLE_G_L
    sentence = f"The blank reads {shown:.1f} g/L; {limits[0]:g} to {limits[1]:g} g/L is expected."
    step = "Check that it was the blank cylinder, with dispersant, and the sign of the value."
    return [Finding(code, severity, sentence, step, shown, "g/L", index)]


def _temperature(index: int, point: ReadingPoint) -> list[Finding]:
    if point.blank_temperature_c is None:
        sentence = f"The blank at {point.elapsed_s:g} s has no temperature; the suspension's was taken."
        step = "Record the blank's temperature; 1 °C apart is about 0.3 g/L."
        return [
            Finding(
                "blank_temperature_missing",
                Severity.WARN,
                sentence,
                step,
                point.elapsed_s,
                "s",
                reading_index=index,
            )
        ]
    apart = point.at_c - point.blank_temperature_c
    if round(abs(apart), 6) <= APART_WARN_C:
        return []
    wide = "; the correction itself is then uncertain by about 0.2 g/L" if abs(apart) > APART_WIDE_C else ""
    sentence = f"Suspension and blank are {abs(apart):.1f} °C apart at {point.elapsed_s:g} s{wide}."
    step = "The difference is corrected; let both cylinders reach one temperature before the next run."
    code = "blank_temperature_far_apart" if abs(apart) > APART_WIDE_C else "blank_temperature_apart"
    return [Finding(code, Severity.WARN, sentence, step, apart, "°C", index)]


def _drift(record: RunRecord) -> list[Finding]:
    """A blank that moves by more than its own temperature explains."""
    scale = record.hydrometer.scale
    read = [
        (index, point.blank_reading, point.blank_temperature_c)
        for index, point in enumerate(record.readings)
        if point.blank_reading is not None and point.blank_temperature_c is not None
    ]
    found: list[Finding] = []
    for (_, was, was_c), (index, now, now_c) in pairwise(read):
        per_unit = (
            1.0 if scale is HydrometerScale.GRAMS_PER_LITRE else soil_per_scale_unit_g_l(scale) / 1000.0
        )
        expected = -warmth_correction(scale, now_c, was_c) * per_unit
        excess = round(blank_g_l(scale, now) - blank_g_l(scale, was) - expected, 6)
        if abs(excess) > DRIFT_LIMIT_G_L:
            sentence = f"The blank moved by {excess:+.2f} g/L more than its temperature explains."
            step = "Look for another cylinder, evaporation, a dirty stem or a blank that was not read."
            found.append(Finding("blank_drift", Severity.WARN, sentence, step, excess, "g/L", index))
    return found
