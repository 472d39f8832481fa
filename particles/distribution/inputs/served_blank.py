"""
The blank that serves each reading: its level from all its readings, weighed by physics (decision 0013).

A reading of the blank speaks for a reading of the suspension at any time: the liquid does not settle. How well is a
matter of its own noise, of the temperature between the two, which is corrected by the density of water, and of how
much a blank's level wanders in that time. Where it is found to have moved, its readings before speak little for those
after.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from particles.distribution.inputs.blank_series import BlankMove, SeriesReading, blank_move, blank_series
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ReadingState, RunRecord

SHIFT_SD_G_L_PER_C = 0.05
"""Standard uncertainty of what a degree does to a blank: half of how far the slopes in use lie apart, 0.29 to 0.36 at
20 to 25 C, rounded up. *Common practice*. [g/L per C]"""
WANDERS_G_L_PER_DAY = 0.2
"""Standard deviation of a blank's level from one day to the next, from evaporation and the surface at the stem; goes
with the square root of time. An estimate. [g/L]"""
LEAST_SD_G_L = 0.1
"""Noise of a reading of the blank for its weight alone, in an edition that states none. [g/L]"""
DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class ServedBlank:
    """Readings of the blank as they serve the readings of one run."""

    series: tuple[SeriesReading, ...]
    weights: Mapping[int, tuple[float, ...]]
    """Reading index -> (m,) shares of the readings of the blank in what it is corrected by, 1 in sum. [-]"""
    move: BlankMove | None

    def level_g_l(self, index: int) -> float:
        """The blank at 20 C for one reading. [g/L]"""
        pairs = zip(self.weights[index], self.series, strict=True)
        return sum(weight * each.level_g_l for weight, each in pairs)

    def temperature_c(self, index: int) -> float:
        """Mean temperature of the blanks for one reading, each by its share. [C]"""
        pairs = zip(self.weights[index], self.series, strict=True)
        return sum(weight * each.temperature_c for weight, each in pairs)


def served_blank(record: RunRecord, method: MethodEdition) -> ServedBlank | None:
    """The blank of a run that serves by physics; None for one whose readings have their own blank beside them."""
    if not record.blanks:
        return None
    series, move = blank_series(record), blank_move(record, method)
    if not series:
        return None
    weights = {
        index: _weights(series, point.elapsed_s, point.at_c, move, method)
        for index, point in enumerate(record.readings)
        if point.state is ReadingState.READ
    }
    return ServedBlank(series, weights, move)


def _weights(
    series: Sequence[SeriesReading],
    at_s: float,
    temperature_c: float,
    move: BlankMove | None,
    method: MethodEdition,
) -> tuple[float, ...]:
    own_g_l = max(method.uncertainties.blank_reading_g_l, LEAST_SD_G_L)
    moved = None if move is None or move.start is None else move.start
    shares = []
    for place, each in enumerate(series):
        variance = own_g_l**2 + WANDERS_G_L_PER_DAY**2 * abs(each.at_s - at_s) / DAY_S
        variance += (SHIFT_SD_G_L_PER_C * (each.temperature_c - temperature_c)) ** 2
        if move is not None and moved is not None and _on_the_other_side(series, place, at_s, move, moved):
            variance += move.size**2
        shares.append(1.0 / variance)
    whole = sum(shares)
    return tuple(share / whole for share in shares)


def _on_the_other_side(
    series: Sequence[SeriesReading], place: int, at_s: float, move: BlankMove, start: int
) -> bool:
    """Whether the blank moved between its reading and the moment; one that lies off alone serves nobody well."""
    if move.alone:
        return place == start
    return (place >= start) != after_move(series, start, at_s)


def after_move(series: Sequence[SeriesReading], start: int, at_s: float) -> bool:
    """Whether a moment lies nearer in time to the blanks after a step than to those before it."""
    return 2.0 * at_s >= series[start - 1].at_s + series[start].at_s
