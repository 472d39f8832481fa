"""The readings of one blank as a series at 20 C, and whether its level moved. Every reading counts once."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median

from particles.distribution.inputs.noise import (
    BlankLine,
    blank_g_l,
    blank_temperature_c,
    reading_sd_g_l,
    temperature_shift_g_l,
)
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import BlankReading, Correction, ReadingState, RunRecord

TREND_LEAST = 4
"""Fewer blanks have no two halves. *Common practice*."""
MEDIAN_VARIANCE = 1.57
"""Variance of a median per that of a mean of as many values, pi / 2. [-]"""
DRIFT_WIDER = 1.13
"""Widens the limit for the farthest of several blanks: keeps false alarms rare (decision 0004). [-]"""
TREND_WIDER = 1.1
"""Widens the limit for two halves of the blanks: keeps false alarms rare (decision 0004). [-]"""
SLOPE_LIMIT_SD = 3.3
"""A slope counts beyond so many of its standard deviations: keeps false alarms rare (decision 0004). [-]"""
SLOPE_KNOWN_TO = 0.6
"""The test against temperature says nothing when the slope is known no better than this. [-]"""


@dataclass(frozen=True, slots=True)
class SeriesReading:
    """One reading of the blank with its place in a run."""

    index: int
    """Slot of the run it stands beside, or the first slot after it."""
    at_s: float
    """From the run's own time zero. [s]"""
    temperature_c: float
    shown_g_l: float
    """As a true 152H shows it at its own temperature. [g/L]"""
    shift_g_l: float
    """What its temperature does against 20 C. [g/L]"""

    @property
    def level_g_l(self) -> float:
        """The reading brought to 20 C. [g/L]"""
        return self.shown_g_l - self.shift_g_l


@dataclass(frozen=True, slots=True)
class BlankMove:
    """How the blank moved, temperature apart."""

    start: int | None
    """Reading of the series from which on it moved, or which alone lies off; None: it moves with its temperature."""
    alone: bool
    """Whether that one reading lies off and those after it do not."""
    size: float
    """How far it moved [g/L]; without a start the observed per expected move with its temperature [-]."""


def blank_series(record: RunRecord) -> tuple[SeriesReading, ...]:
    """Readings of the blank in order of time, each once; empty without a measured blank."""
    if record.correction is not Correction.MEASURED_BLANK:
        return ()
    if record.blanks:
        return tuple(_of_its_own(record, each) for each in record.blanks)
    found: dict[object, SeriesReading] = {}
    for index, point in enumerate(record.readings):
        warm_c = blank_temperature_c(point)
        if point.blank_reading is None or warm_c is None or point.state is ReadingState.MISSED:
            continue
        one = _series_reading(record, index, BlankReading(point.elapsed_s, warm_c, point.blank_reading))
        found.setdefault(("alone", index) if point.blank_number is None else point.blank_number, one)
    return tuple(found.values())


def _of_its_own(record: RunRecord, blank: BlankReading) -> SeriesReading:
    """Its place is that of its slot, or of the first reading after it, the last one at most."""
    wanted_s = blank.at_s if blank.slot_s is None else blank.slot_s
    times_s = [point.elapsed_s for point in record.readings]
    if blank.slot_s is None:
        index = next((k for k, at_s in enumerate(times_s) if at_s >= wanted_s), len(times_s) - 1)
    else:
        index = min(range(len(times_s)), key=lambda k: abs(times_s[k] - wanted_s))
    return _series_reading(record, index, blank)


def _series_reading(record: RunRecord, index: int, blank: BlankReading) -> SeriesReading:
    shown_g_l = blank_g_l(record, blank.reading)
    shift_g_l = temperature_shift_g_l(record.hydrometer.scale, blank.temperature_c)
    return SeriesReading(index, blank.at_s, blank.temperature_c, shown_g_l, shift_g_l)


def series_line(series: tuple[SeriesReading, ...]) -> BlankLine | None:
    """The series as a level with a difference for each of its readings, by place; None with fewer than two."""
    if len(series) < 2:
        return None
    level = median(each.level_g_l for each in series)
    return BlankLine(
        level,
        {k: each.level_g_l - level for k, each in enumerate(series)},
        {k: each.shift_g_l for k, each in enumerate(series)},
    )


def blank_move(record: RunRecord, method: MethodEdition) -> BlankMove | None:
    """How the blank of a run moved beyond what reading noise does; None when it did not."""
    line = series_line(blank_series(record))
    if line is None:
        return None
    sd_g_l = reading_sd_g_l(record, method)
    moved = (
        one_off(line, method, sd_g_l) is not None
        or halves_apart(line, method, sd_g_l) is not None
        or slope_off(line, sd_g_l) is not None
    )
    return _best_told(line) if moved else None


def blank_step(record: RunRecord, method: MethodEdition) -> tuple[int, float] | None:
    """Slot from which on the blank moved and by how much [g/L]; None when it did not, or only once."""
    move = blank_move(record, method)
    if move is None or move.start is None or move.alone:
        return None
    return blank_series(record)[move.start].index, move.size


def one_off(line: BlankLine, method: MethodEdition, reading_sd: float) -> float | None:
    """How far the farthest blank lies from the blank's level beyond noise; None when none does. [g/L]"""
    count = len(line.difference_g_l)
    difference = max(line.difference_g_l.values(), key=abs)
    # The median it is compared with carries its own noise.
    noise = reading_sd * sqrt(1.0 + MEDIAN_VARIANCE / count)
    if count == 2:
        difference, noise = line.difference_g_l[1] - line.difference_g_l[0], reading_sd * sqrt(2.0)
    beyond = max(method.limits.blank_drift_g_l, method.limits.noise_warn_sd * noise * DRIFT_WIDER)
    return difference if round(abs(difference), 6) > beyond else None


def halves_apart(line: BlankLine, method: MethodEdition, reading_sd: float) -> float | None:
    """Later less earlier half of the blanks, beyond noise; None when they agree. [g/L]"""
    values = list(line.difference_g_l.values())
    n = len(values)
    if n < TREND_LEAST:
        return None
    moved = fmean(values[n - n // 2 :]) - fmean(values[: n // 2])
    noise = reading_sd * sqrt(2.0 / (n // 2))
    beyond = max(method.limits.blank_drift_g_l, method.limits.noise_warn_sd * TREND_WIDER * noise)
    return moved if abs(moved) > beyond else None


def slope_off(line: BlankLine, reading_sd: float) -> float | None:
    """Observed per predicted move of the blank with its temperature, which must be 1; None when it is. [-]"""
    slope, power = _slope(line)
    if power == 0.0 or reading_sd / sqrt(power) > SLOPE_KNOWN_TO:
        return None
    return slope if abs(slope - 1.0) > SLOPE_LIMIT_SD * reading_sd / sqrt(power) else None


def _slope(line: BlankLine) -> tuple[float, float]:
    """Observed per predicted move, and the sum of the squares of the predicted ones. [-], [g²/L²]"""
    middle, level = fmean(line.shift_g_l.values()), fmean(line.difference_g_l.values())
    moves = {k: shift - middle for k, shift in line.shift_g_l.items()}
    power = sum(move**2 for move in moves.values())
    if power == 0.0:
        return 1.0, 0.0
    return 1.0 + sum(moves[k] * (line.difference_g_l[k] - level) for k in moves) / power, power


def _best_told(line: BlankLine) -> BlankMove:
    """The one move that leaves the least unexplained: a step, a single reading, or one with temperature."""
    values = list(line.difference_g_l.values())
    told = [_step(values, k) for k in range(1, len(values))]
    if len(values) > 2:
        told += [_single(values, k) for k in range(len(values) - 1)]
    slope, power = _slope(line)
    if power > 0.0:
        left = _squares(values) - (slope - 1.0) ** 2 * power
        told.append((left, BlankMove(None, False, slope)))
    return min(told, key=lambda each: round(each[0], 9))[1]


def _step(values: list[float], start: int) -> tuple[float, BlankMove]:
    before, after = values[:start], values[start:]
    left = _squares(before) + _squares(after)
    return left, BlankMove(start, False, fmean(after) - fmean(before))


def _single(values: list[float], place: int) -> tuple[float, BlankMove]:
    others = values[:place] + values[place + 1 :]
    return _squares(others), BlankMove(place, True, values[place] - fmean(others))


def _squares(values: list[float]) -> float:
    middle = fmean(values)
    return sum((value - middle) ** 2 for value in values)
