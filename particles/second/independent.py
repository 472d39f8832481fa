"""
The standard steps once more, scalar and plain, as a recalculation that shares no arithmetic with the core.

Covers a measured blank, depth by line or table, and straight interpolation; NotCoveredError for the rest.
Sources as in `particles/distribution`: water by Tanaka 2001 and Kestin 1978, hexametaphosphate 0.630 and 4.25
per g/mL, glass 25e-6 per C, all from memory and checked there against IAPWS.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import log, sqrt

from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import (
    ClayExtrapolation,
    Correction,
    DepthLine,
    HydrometerScale,
    Interpolation,
    ReadingPoint,
    ReadingState,
    RunRecord,
)
from particles.second.blank import of_all_blanks, other_liquid, true_scale, warm, water_kg_m3


class NotCoveredError(ValueError):
    """The recalculation does not know this rule; the sentence names it."""


@dataclass(frozen=True, slots=True)
class RecalculatedPoint:
    """One point of the curve as it was calculated again."""

    reading_index: int
    concentration_g_l: float
    effective_depth_cm: float
    diameter_um: float
    percent_finer: float
    percent_finer_curve: float


@dataclass(frozen=True, slots=True)
class Recalculation:
    """Points in falling order of diameter; fractions None where a limit is not reached. [%]"""

    points: tuple[RecalculatedPoint, ...]
    clay_pct: float | None
    silt_pct: float | None
    sand_pct: float | None


def recalculate(record: RunRecord, method: MethodEdition) -> Recalculation:
    """
    Points, sand, silt and clay of one run that the core can compute; smoothed, unrounded.

    Raises
    ------
    NotCoveredError for another correction than a measured blank, a cubic curve, or a run without mass.
    """
    if record.correction is not Correction.MEASURED_BLANK:
        raise NotCoveredError(f"Recalculated with a measured blank only, not with: {record.correction}.")
    if method.interpolation is not Interpolation.STRAIGHT:
        raise NotCoveredError(f"Recalculated with straight interpolation only, not: {method.interpolation}.")
    mass_g = _mass_g(record)
    rows = sorted(_rows(record, method, mass_g), key=lambda row: -row[3])
    curve = _never_rising([row[4] for row in rows])
    points = tuple(RecalculatedPoint(*row, flat) for row, flat in zip(rows, curve, strict=True))
    clay = _clay(method, points)
    sand = _sand(record, method, points, mass_g)
    silt = None if clay is None or sand is None else 100.0 - sand - clay
    return Recalculation(points, clay, silt, sand)


def _mass_g(record: RunRecord) -> float:
    if record.oven_dry_mass_g is not None:
        return record.oven_dry_mass_g
    if record.air_dry_mass_g is None:
        raise NotCoveredError("There is no mass to refer percentages to.")
    return record.air_dry_mass_g / (1.0 + (record.moisture_pct or 0.0) / 100.0)


def _viscosity_pa_s(t: float) -> float:
    d = 20.0 - t
    exponent = (1.2364 * d - 1.37e-3 * d**2 + 5.7e-6 * d**3) / (t + 96.0)
    return float(1.0016e-3 * 10.0**exponent)


def _blank(record: RunRecord, method: MethodEdition, index: int) -> tuple[float, float] | None:
    """Blank on a true scale with its temperature; between its neighbours where the edition allows it."""
    point = record.readings[index]
    if record.blanks:
        return of_all_blanks(record, method, point)
    if point.blank_reading is not None:
        t = point.temperature_c if point.blank_temperature_c is None else point.blank_temperature_c
        assert t is not None
        return true_scale(record, point.blank_reading), t
    if not method.interpolate_missing_blank or point.temperature_c is None:
        return None
    here = point.temperature_c
    in_time = sorted(record.readings, key=lambda each: each.elapsed_s)
    before = _nearest(record, [p for p in in_time[::-1] if p.elapsed_s < point.elapsed_s], here)
    after = _nearest(record, [p for p in in_time if p.elapsed_s > point.elapsed_s], here)
    if before is None or after is None:
        return None
    (was_s, was), (then_s, then) = before, after
    share = (point.elapsed_s - was_s) / (then_s - was_s)
    return was + share * (then - was), here


def _nearest(record: RunRecord, points: list[ReadingPoint], here_c: float) -> tuple[float, float] | None:
    """(time, blank brought to a temperature) of the first point that has both blank and temperature."""
    for point in points:
        if point.blank_reading is not None and point.blank_temperature_c is not None:
            shown = true_scale(record, point.blank_reading)
            return point.elapsed_s, shown + warm(record, point.blank_temperature_c, here_c)
    return None


def _rows(
    record: RunRecord, method: MethodEdition, mass_g: float
) -> list[tuple[int, float, float, float, float]]:
    """(index, concentration, depth, diameter, percent) of every usable reading."""
    density, c = record.particle_density_g_cm3 * 1000.0, record.dispersant_g_l / 1000.0
    rows = []
    fall = 0.0  # of g (rho_s - rho_l) / (18 eta) over time, that is L / D²
    last: tuple[float, float] | None = None
    for index, point in enumerate(record.readings):
        if point.state is ReadingState.MISSED:
            continue
        t = point.temperature_c
        assert t is not None
        rate = (
            9.80665
            * (density - water_kg_m3(t) * (1.0 + 0.630 * c))
            / (18.0 * _viscosity_pa_s(t) * (1.0 + 4.25 * c))
        )
        since_s, was = last or (0.0, rate)
        fall += (was + rate) / 2.0 * (point.elapsed_s - since_s)
        last = (point.elapsed_s, rate)
        blank = _blank(record, method, index)
        stem = record.hydrometer
        if (
            point.reading is None
            or blank is None
            or not stem.scale_minimum <= point.reading <= stem.scale_maximum
        ):
            continue
        blank_reading, blank_c = blank
        net = true_scale(record, point.reading) - blank_reading - warm(record, blank_c, t)
        net -= other_liquid(record)
        held = _soil_g_l(record, net)
        depth_cm = _depth_cm(record, method, point.elapsed_s, point.reading)
        d_um = 1e6 * sqrt(depth_cm / 100.0 / fall)
        rows.append((index, held, depth_cm, d_um, 100.0 * held * (record.volume_ml / 1000.0) / mass_g))
    return rows


def _soil_g_l(record: RunRecord, net: float) -> float:
    g, w = record.particle_density_g_cm3, water_kg_m3(20.0) / 1000.0
    if record.hydrometer.scale is HydrometerScale.RELATIVE_DENSITY:
        return 1000.0 * net * w * g / (g - w)
    return net * (g / (g - w)) * ((2.65 - w) / 2.65)


def _depth_cm(record: RunRecord, method: MethodEdition, elapsed_s: float, reading: float) -> float:
    stem = record.hydrometer
    level = reading + stem.meniscus_correction
    if isinstance(stem.depth, DepthLine):
        zero = 1.0 if stem.scale is HydrometerScale.RELATIVE_DENSITY else 0.0
        depth_cm = stem.depth.intercept_cm - stem.depth.slope_cm_per_unit * (level - zero)
    else:
        marks, depths = stem.depth.readings, stem.depth.depths_cm
        k = 0
        while k < len(marks) - 2 and marks[k + 1] <= level:
            k += 1
        depth_cm = depths[k] + (depths[k + 1] - depths[k]) * (level - marks[k]) / (marks[k + 1] - marks[k])
    until_s = method.still_inserted_until_s
    return depth_cm + (
        stem.insertion_displacement_cm if until_s is not None and elapsed_s <= until_s else 0.0
    )


def _never_rising(values: list[float]) -> list[float]:
    """Lowest over the starts of the highest over the ends of the means: the closest curve that never rises."""
    n = len(values)

    def mean(a: int, b: int) -> float:
        return sum(values[a : b + 1]) / (b - a + 1)

    return [min(max(mean(a, b) for b in range(k, n)) for a in range(k + 1)) for k in range(n)]


def _at(points: tuple[RecalculatedPoint, ...], size_um: float, factor: float) -> float | None:
    """Percent finer at a size, straight against log diameter, up to a factor beyond the points."""
    if (
        len(points) < 2
        or size_um > factor * points[0].diameter_um
        or size_um < points[-1].diameter_um / factor
    ):
        return None
    k = 0
    while k < len(points) - 2 and points[k + 1].diameter_um > size_um:
        k += 1
    a, b = points[k], points[k + 1]
    rate = (b.percent_finer_curve - a.percent_finer_curve) / (log(b.diameter_um) - log(a.diameter_um))
    return a.percent_finer_curve + rate * (log(size_um) - log(a.diameter_um))


def _clay(method: MethodEdition, points: tuple[RecalculatedPoint, ...]) -> float | None:
    limit_um, rule = method.clay_limit_um, method.clay_extrapolation
    factor = 1.0 if rule is ClayExtrapolation.NONE else method.limits.extrapolation_factor
    inside = points and points[-1].diameter_um <= limit_um <= points[0].diameter_um
    if rule is ClayExtrapolation.DAY_LINE and not inside and _at(points, limit_um, factor) is not None:
        raise NotCoveredError("Recalculated without the line through 1.5 h and 24 h.")
    return _at(points, limit_um, factor)


def _sand(
    record: RunRecord, method: MethodEdition, points: tuple[RecalculatedPoint, ...], mass_g: float
) -> float | None:
    low, high = method.sand_sieve_openings_um
    stack = record.sieving
    if stack is not None:
        openings = [sieve.opening_um for sieve in stack.sieves if low <= sieve.opening_um <= high]
        if openings:
            kept = sum(sieve.retained_g for sieve in stack.sieves if sieve.opening_um >= min(openings))
            own_g = stack.portion_oven_dry_mass_g
            weighed = 100.0 * kept / (mass_g if own_g is None else own_g)
            if not method.sand_at_limit:
                return weighed
            beside = _beside(record, method, points, min(openings), mass_g)
            return None if beside is None else weighed + beside
    finer = _at(points, method.sand_limit_um, method.limits.extrapolation_factor)
    return None if finer is None else 100.0 - finer


def _beside(
    record: RunRecord,
    method: MethodEdition,
    points: tuple[RecalculatedPoint, ...],
    sieve_um: float,
    mass_g: float,
) -> float | None:
    """Percent between sand sieve and sand limit: the hydrometer's own fall, or that of the joined curve."""
    stack, limit_um = record.sieving, method.sand_limit_um
    assert stack is not None
    if sieve_um == limit_um:
        return 0.0
    at_sieve, at_limit = _at(points, sieve_um, 1.0), _at(points, limit_um, 1.0)
    coarser = any(sieve.opening_um > limit_um for sieve in stack.sieves)
    finer_too = any(sieve.opening_um < limit_um for sieve in stack.sieves)
    if at_sieve is not None and at_limit is not None and not (coarser and finer_too):
        return at_sieve - at_limit
    own_g = stack.portion_oven_dry_mass_g
    finer, curve = 100.0, []
    for sieve in stack.sieves:
        finer -= 100.0 * sieve.retained_g / (mass_g if own_g is None else own_g)
        curve.append((sieve.opening_um, finer))
    passing = dict(curve)[sieve_um]
    finest_um = curve[-1][0]
    curve += [(p.diameter_um, min(p.percent_finer_curve, finer)) for p in points if p.diameter_um < finest_um]
    for (a, high), (b, low) in pairwise(curve):
        if a >= limit_um >= b:
            return passing - (high + (low - high) * log(limit_um / a) / log(b / a))
    return None
