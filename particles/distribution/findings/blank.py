"""Findings on the correction of the readings: the blank above all."""

from __future__ import annotations

from particles.distribution.findings.blank_level import level_findings
from particles.distribution.inputs.blank_filling import INTERPOLATED_SD_G_L, fillable
from particles.distribution.inputs.noise import blank_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import (
    Correction,
    Finding,
    ReadingPoint,
    ReadingState,
    RunRecord,
    Severity,
)


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
    """What is missing, what is out of range, what is apart, and how the blank's level behaves."""
    found: list[Finding] = []
    filled = fillable(record, method)
    for index, point in enumerate(record.readings):
        if point.state is not ReadingState.READ:
            continue
        if index in filled:
            found.append(_interpolated(index, point, filled[index]))
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
        found += _range(record, method.limits, index, point.blank_reading)
        found += _temperature(method.limits, index, point)
        if point.blank_gap_s is not None and point.blank_gap_s > method.blank_window_s:
            sentence = (
                f"The blank was read {point.blank_gap_s / 60.0:.0f} min from the reading at "
                f"{point.elapsed_s:g} s; the method allows {method.blank_window_s / 60.0:.0f} min."
            )
            step = "Check that the temperature had not moved by more than 0.5 °C."
            found.append(
                Finding("blank_far_in_time", Severity.WARN, sentence, step, point.blank_gap_s, "s", index)
            )
    return found + level_findings(record, method)


def _interpolated(index: int, point: ReadingPoint, blank_g_l: float) -> Finding:
    sentence = (
        f"No blank was read for the reading at {point.elapsed_s:g} s; {blank_g_l:.2f} g/L was taken from the "
        "same blank before and after, brought to its temperature."
    )
    counts = f"that blank counts with an uncertainty of {INTERPOLATED_SD_G_L:g} g/L"
    step = f"Print it with the result; {counts}. Read it every time."
    return Finding("blank_interpolated", Severity.WARN, sentence, step, blank_g_l, "g/L", index)


def _range(record: RunRecord, limits: QualityLimits, index: int, blank_reading: float) -> list[Finding]:
    shown = blank_g_l(record, blank_reading)
    code, severity, (low, high) = "blank_unusual", Severity.WARN, limits.blank_usual_g_l
    if low <= shown <= high:
        return []
    if not limits.blank_possible_g_l[0] <= shown <= limits.blank_possible_g_l[1]:
        code, severity, (low, high) = "blank_impossible", Severity.STOP, limits.blank_possible_g_l
    sentence = f"The blank reads {shown:.1f} g/L; {low:g} to {high:g} g/L is expected."
    step = "Check that it was the blank cylinder, with dispersant, and the sign of the value."
    return [Finding(code, severity, sentence, step, shown, "g/L", index)]


def _temperature(limits: QualityLimits, index: int, point: ReadingPoint) -> list[Finding]:
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
    if round(abs(apart), 6) <= limits.blank_apart_warn_c:
        return []
    wide = (
        "; the correction itself is then uncertain by about 0.2 g/L"
        if abs(apart) > limits.blank_apart_wide_c
        else ""
    )
    sentence = f"Suspension and blank are {abs(apart):.1f} °C apart at {point.elapsed_s:g} s{wide}."
    step = "The difference is corrected; let both cylinders reach one temperature before the next run."
    code = (
        "blank_temperature_far_apart" if abs(apart) > limits.blank_apart_wide_c else "blank_temperature_apart"
    )
    return [Finding(code, Severity.WARN, sentence, step, apart, "°C", index)]
