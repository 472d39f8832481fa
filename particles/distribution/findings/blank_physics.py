"""Findings on a blank that serves by temperature and not by minutes, each at most once for a run (decision 0013)."""

from __future__ import annotations

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.blank_series import SeriesReading, blank_move, blank_series
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import ReadingPoint, ReadingState, RunRecord
from particles.distribution.spoken import spoken_place

FORGOTTEN_S = 7200.0
"""A blank read within so long of a reading is not forgotten there. *Common practice*. [s]"""
FORGOTTEN_SHARE = 0.5
"""Nor is one read within this share of the elapsed time. *Common practice*. [-]"""


def service_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """blank_impossible, blank_unusual, blank_temperature_missing, _apart, _far_apart, _moved, blank_not_read."""
    series = blank_series(record)
    read = [
        (k, p)
        for k, p in enumerate(record.readings)
        if p.state is ReadingState.READ and (record.blanks or p.blank_reading is not None)
    ]
    if not series:
        return []
    return [
        *_range(method.limits, series),
        *_missing(record, read),
        *_temperature(record, method, series, read),
        *(_forgotten(series, read) if record.blanks else ()),
    ]


def _range(limits: QualityLimits, series: tuple[SeriesReading, ...]) -> list[Finding]:
    """The blank farthest out of its range."""
    (low, high), (least, most) = limits.blank_usual_g_l, limits.blank_possible_g_l
    worst = max(series, key=lambda each: max(low - each.shown_g_l, each.shown_g_l - high))
    shown = worst.shown_g_l
    if low <= shown <= high:
        return []
    if least <= shown <= most:
        return [finding("blank_unusual", number=shown, reading_index=worst.index, low=low, high=high)]
    return [finding("blank_impossible", number=shown, reading_index=worst.index, low=least, high=most)]


def _missing(record: RunRecord, read: list[tuple[int, ReadingPoint]]) -> list[Finding]:
    """The first blank without a temperature."""
    if record.blanks:
        return []
    without = ((k, p) for k, p in read if p.blank_reading is not None and p.blank_temperature_c is None)
    return [
        finding("blank_temperature_missing", number=point.elapsed_s, reading_index=index)
        for index, point in without
    ][:1]


def _temperature(
    record: RunRecord,
    method: MethodEdition,
    series: tuple[SeriesReading, ...],
    read: list[tuple[int, ReadingPoint]],
) -> list[Finding]:
    """The reading farthest in temperature from the blank beside it, or from every blank if none was beside it."""
    limits = method.limits
    beside: tuple[float, int] = (0.0, -1)
    away: tuple[float, int] = (0.0, -1)
    for index, point in read:
        near = _beside_c(record, method, series, point)
        if near is not None:
            beside = max(beside, (near, index), key=lambda each: abs(each[0]))
            continue
        least = min((point.at_c - each.temperature_c for each in series), key=abs)
        away = max(away, (least, index), key=lambda each: abs(each[0]))
    if round(abs(beside[0]), 6) > limits.blank_apart_warn_c:
        wide = abs(beside[0]) > limits.blank_apart_wide_c
        code = "blank_temperature_far_apart" if wide else "blank_temperature_apart"
    elif round(abs(away[0]), 6) > limits.blank_moved_warn_c:
        code, beside = "blank_temperature_moved", away
    else:
        return []
    difference_c, index = beside
    return [
        finding(
            code,
            number=difference_c,
            reading_index=index,
            difference_c=abs(difference_c),
            elapsed_s=record.readings[index].elapsed_s,
        )
    ]


def _beside_c(
    record: RunRecord, method: MethodEdition, series: tuple[SeriesReading, ...], point: ReadingPoint
) -> float | None:
    """Suspension less the blank read within the window of time; None when none was. [C]"""
    if not record.blanks:
        if point.blank_reading is None or point.blank_temperature_c is None:
            return None if point.blank_reading is None else 0.0
        gap_s = point.blank_gap_s or 0.0
        return point.at_c - point.blank_temperature_c if gap_s <= method.blank_window_s else None
    nearest = min(series, key=lambda each: abs(each.at_s - point.elapsed_s))
    if abs(nearest.at_s - point.elapsed_s) > method.blank_window_s:
        return None
    return point.at_c - nearest.temperature_c


def _forgotten(series: tuple[SeriesReading, ...], read: list[tuple[int, ReadingPoint]]) -> list[Finding]:
    """The reading that is farthest in time from every blank, when that is hours and much of the run."""
    found: tuple[float, int, float] = (0.0, -1, 0.0)
    for index, point in read:
        unread_s = min(abs(each.at_s - point.elapsed_s) for each in series)
        if unread_s > max(FORGOTTEN_S, FORGOTTEN_SHARE * point.elapsed_s):
            found = max(found, (unread_s, index, point.elapsed_s))
    unread_s, index, elapsed_s = found
    if index < 0:
        return []
    return [
        finding(
            "blank_not_read",
            number=unread_s / 3600.0,
            reading_index=index,
            elapsed_s=elapsed_s,
        )
    ]


def move_findings(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """blank_moved, once, in words that are the same for every run beside that blank."""
    move = blank_move(record, method)
    if move is None:
        return []
    if move.start is None:
        return [finding("blank_moved", variant="with_temperature", number=move.size)]
    variant = "once" if move.alone else "from_then_on"
    index = blank_series(record)[move.start].index
    return [
        finding(
            "blank_moved",
            variant=variant,
            number=move.size,
            reading_index=index,
            place=spoken_place(move.start + 1),
        )
    ]
