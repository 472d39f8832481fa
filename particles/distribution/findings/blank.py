"""Findings on the correction of the readings: the blank above all."""

from __future__ import annotations

from particles.distribution.answer import Finding
from particles.distribution.findings.blank_level import level_findings
from particles.distribution.findings.blank_physics import service_findings
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.blank_filling import INTERPOLATED_SD_G_L, interpolated_blanks_g_l
from particles.distribution.inputs.noise import blank_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import Correction, ReadingPoint, ReadingState, RunRecord
from particles.distribution.settling.stem_scale import GRADUATION
from particles.distribution.settling.water import REFERENCE_C

SAME_GRADUATIONS = 1e-6
"""Two figures typed alike differ by less. [graduations]"""


def correction_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """no_blank, blank_not_measured, meniscus_twice, correction_missing and everything `blank_findings` gives."""
    if record.correction is Correction.MEASURED_BLANK:
        return blank_findings(record, method)
    if record.correction is Correction.NONE:
        return [finding("no_blank")]
    return [
        finding("blank_not_measured", rule=record.correction),
        *_meniscus_twice(record),
        *(
            finding("correction_missing", number=point.elapsed_s, reading_index=index)
            for index, point in enumerate(record.readings)
            if record.correction is Correction.COMPOSITE
            and point.composite_correction_graduations is None
            and point.state is ReadingState.READ
        ),
    ]


def _meniscus_twice(record: RunRecord) -> list[Finding]:
    """meniscus_twice: a figure that corrects the readings and is just the meniscus, which the depth already holds."""
    stem = record.hydrometer
    height = stem.meniscus_correction / GRADUATION[stem.scale]
    line = record.temperature_correction
    figures = [record.zero_correction_graduations if record.correction is Correction.SEPARATE else 0.0]
    if line is not None:
        figures.append(line.intercept_graduations + line.slope_graduations_per_c * REFERENCE_C)
    typed = {point.composite_correction_graduations for point in record.readings} - {None}
    figures += [each for each in typed if each is not None and len(typed) == 1]
    if height <= 0.0 or all(abs(abs(each) - height) > SAME_GRADUATIONS for each in figures):
        return []
    return [finding("meniscus_twice", number=height)]


def blank_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """Findings on blanks missing, out of range, of another temperature or time, and on the blank's level."""
    found: list[Finding] = []
    filled = interpolated_blanks_g_l(record, method)
    for index, point in enumerate(record.readings):
        if point.state is not ReadingState.READ:
            continue
        if index in filled:
            found.append(_interpolated(index, point, filled[index]))
        elif point.blank_reading is None and not record.blanks:
            found.append(finding("blank_missing", number=point.elapsed_s, reading_index=index))
        elif point.blank_reading is not None and not method.blank_by_physics:
            found += _range(record, method.limits, index, point.blank_reading)
            found += _temperature(method.limits, index, point)
            found += _time(method, index, point)
    if method.blank_by_physics:
        found += service_findings(record, method)
    return found + level_findings(record, method)


def _interpolated(index: int, point: ReadingPoint, taken_g_l: float) -> Finding:
    return finding(
        "blank_interpolated",
        number=taken_g_l,
        reading_index=index,
        elapsed_s=point.elapsed_s,
        sd_g_l=INTERPOLATED_SD_G_L,
    )


def _range(record: RunRecord, limits: QualityLimits, index: int, blank_reading: float) -> list[Finding]:
    shown = blank_g_l(record, blank_reading)
    low, high = limits.blank_usual_g_l
    if low <= shown <= high:
        return []
    if limits.blank_possible_g_l[0] <= shown <= limits.blank_possible_g_l[1]:
        return [finding("blank_unusual", number=shown, reading_index=index, low=low, high=high)]
    low, high = limits.blank_possible_g_l
    return [finding("blank_impossible", number=shown, reading_index=index, low=low, high=high)]


def _temperature(limits: QualityLimits, index: int, point: ReadingPoint) -> list[Finding]:
    if point.blank_temperature_c is None:
        return [finding("blank_temperature_missing", number=point.elapsed_s, reading_index=index)]
    difference_c = point.at_c - point.blank_temperature_c
    if round(abs(difference_c), 6) <= limits.blank_apart_warn_c:
        return []
    wide = abs(difference_c) > limits.blank_apart_wide_c
    return [
        finding(
            "blank_temperature_far_apart" if wide else "blank_temperature_apart",
            number=difference_c,
            reading_index=index,
            difference_c=abs(difference_c),
            elapsed_s=point.elapsed_s,
        )
    ]


def _time(method: MethodEdition, index: int, point: ReadingPoint) -> list[Finding]:
    if point.blank_gap_s is None or point.blank_gap_s <= method.blank_window_s:
        return []
    return [
        finding(
            "blank_far_in_time",
            number=point.blank_gap_s,
            reading_index=index,
            gap_min=point.blank_gap_s / 60.0,
            elapsed_s=point.elapsed_s,
            allowed_min=method.blank_window_s / 60.0,
        )
    ]
