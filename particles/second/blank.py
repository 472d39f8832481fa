"""The blank once more, scalar and plain: its liquid, its temperature, and what all its readings say together."""

from __future__ import annotations

from itertools import pairwise
from math import sqrt

from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import HydrometerScale, ReadingPoint, RunRecord


def water_kg_m3(t: float) -> float:
    return 999.974950 * (1.0 - ((t - 3.983035) ** 2 * (t + 301.797)) / (522528.9 * (t + 69.34881)))


def shown_kg_m3(t: float) -> float:
    """Density a glass hydrometer shows in water."""
    return water_kg_m3(t) * (1.0 + 25e-6 * (t - 20.0))


SHOWN_KG_M3 = (2.65 - water_kg_m3(20.0) / 1000.0) / 2.65
"""Density behind one g/L of a 152H. [kg/m³]"""


def true_scale(record: RunRecord, reading: float) -> float:
    """The reading with its calibration, straight between points and flat beyond them."""
    points = record.hydrometer.scale_corrections
    if not points:
        return reading
    if reading <= points[0][0]:
        return reading + points[0][1]
    for (a, low), (b, high) in pairwise(points):
        if reading <= b:
            return reading + low + (high - low) * (reading - a) / (b - a)
    return reading + points[-1][1]


def warm(record: RunRecord, from_c: float, to_c: float) -> float:
    """Change of a reading in one liquid when that liquid warms, in scale units."""
    change = shown_kg_m3(to_c) - shown_kg_m3(from_c)
    if record.hydrometer.scale is HydrometerScale.GRAMS_PER_LITRE:
        return change / SHOWN_KG_M3
    return change / water_kg_m3(20.0)


def of_all_blanks(record: RunRecord, method: MethodEdition, point: ReadingPoint) -> tuple[float, float]:
    """Blank at 20 C from all its readings, each weighed by one over its variance; decision 0013."""
    at_20 = [true_scale(record, b.reading) + warm(record, b.temperature_c, 20.0) for b in record.blanks]
    here_c = point.temperature_c
    assert here_c is not None
    unit = 1.0 if record.hydrometer.scale is HydrometerScale.GRAMS_PER_LITRE else 1000.0 / SHOWN_KG_M3
    if record.hydrometer.scale is HydrometerScale.RELATIVE_DENSITY:
        unit *= water_kg_m3(20.0) / 1000.0
    first, alone, size = _moved(record, method, [unit * value for value in at_20])
    own = max(method.uncertainties.blank_reading_g_l, 0.1)
    total = weighed = 0.0
    for k, (b, level) in enumerate(zip(record.blanks, at_20, strict=True)):
        variance = own**2 + 0.04 * abs(b.at_s - point.elapsed_s) / 86400.0
        variance += 0.0025 * (b.temperature_c - here_c) ** 2
        if first is not None:
            border_s = (record.blanks[first - 1].at_s + record.blanks[first].at_s) / 2.0
            if k == first if alone else (k >= first) != (point.elapsed_s >= border_s):
                variance += size**2
        total += 1.0 / variance
        weighed += level / variance
    return weighed / total, 20.0


def _moved(record: RunRecord, method: MethodEdition, levels: list[float]) -> tuple[int | None, bool, float]:
    """First blank after a move, whether it alone lies off, and by how much [g/L]; None where none moved."""
    n = len(levels)
    if n < 2:
        return None, False, 0.0
    stem, sizes = record.hydrometer, method.uncertainties
    step = sizes.scale_division_g_l
    if stem.scale is HydrometerScale.RELATIVE_DENSITY:
        step = sizes.scale_division_density * water_kg_m3(20.0) / SHOWN_KG_M3
    noise = max(sqrt(sizes.reading_g_l**2 + step**2 / 12.0), 1e-6)
    per = SHOWN_KG_M3
    warm = [(shown_kg_m3(b.temperature_c) - shown_kg_m3(20.0)) / per for b in record.blanks]
    warm = [value - sum(warm) / n for value in warm]
    mean = sum(levels) / n
    power = sum(value**2 for value in warm)
    along = sum(w * (level - mean) for w, level in zip(warm, levels, strict=True))
    if not _beyond_noise(method, levels, noise, power, along):
        return None, False, 0.0
    fits: list[tuple[float, int | None, bool, float]] = [
        (_left(levels[:k]) + _left(levels[k:]), k, False, _mean(levels[k:]) - _mean(levels[:k]))
        for k in range(1, n)
    ]
    for k in range(n - 1 if n > 2 else 0):
        rest = levels[:k] + levels[k + 1 :]
        fits.append((_left(rest), k, True, levels[k] - _mean(rest)))
    if power > 0.0:
        fits.append((_left(levels) - along**2 / power, None, False, 0.0))
    best = fits[0]
    for fit in fits[1:]:
        if round(fit[0], 9) < round(best[0], 9):
            best = fit
    return best[1:]


def _beyond_noise(
    method: MethodEdition, levels: list[float], noise: float, power: float, along: float
) -> bool:
    """Whether the blanks scatter, drift or follow their temperature as noise does not."""
    n, limits = len(levels), method.limits
    ranked = sorted(levels)
    middle = (ranked[(n - 1) // 2] + ranked[n // 2]) / 2.0
    far = max(abs(value - middle) for value in levels)
    sd = noise * sqrt(1.0 + 1.57 / n)
    if n == 2:
        far, sd = abs(levels[1] - levels[0]), noise * sqrt(2.0)
    if round(far, 6) > max(limits.blank_drift_g_l, 1.13 * limits.noise_warn_sd * sd):
        return True
    half = n // 2
    apart = abs(_mean(levels[n - half :]) - _mean(levels[:half])) if n >= 4 else 0.0
    if apart > max(limits.blank_drift_g_l, 1.1 * limits.noise_warn_sd * noise * sqrt(2.0 / half)):
        return True
    if power == 0.0 or noise / sqrt(power) > 0.6:
        return False
    return abs(along / power) > 3.3 * noise / sqrt(power)


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _left(values: list[float]) -> float:
    return sum((value - _mean(values)) ** 2 for value in values)


def other_liquid(record: RunRecord) -> float:
    """What the run's liquid shows more than the blank's, which holds the dispersant in another volume."""
    if record.blank_dispersant_g_l is None:
        return 0.0
    more = water_kg_m3(20.0) * 0.630 * (record.dispersant_g_l - record.blank_dispersant_g_l) / 1000.0
    if record.hydrometer.scale is HydrometerScale.GRAMS_PER_LITRE:
        return more / SHOWN_KG_M3
    return more / water_kg_m3(20.0)
