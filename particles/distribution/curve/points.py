"""Each usable reading becomes one point of the curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from particles.distribution.answer import SizePoint
from particles.distribution.curve.reading_off import ReadOff, non_rising, percent_finer_at
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import ReadingPoint, ReadingState, RunRecord
from particles.distribution.settling.hydrometer import (
    above_zero,
    concentration_factor,
    correction_taken,
    effective_depth_cm,
    has_its_correction,
)
from particles.distribution.settling.stokes import SettlingPath, reynolds_number, settling_paths
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s


def usable(record: RunRecord, point: ReadingPoint) -> bool:
    """Whether a slot was read, on the stem, and has the figure its correction needs."""
    instrument = record.hydrometer
    return (
        point.state is ReadingState.READ
        and point.reading is not None
        and instrument.scale_minimum <= point.reading <= instrument.scale_maximum
        and has_its_correction(record, point)
    )


def depth_at_cm(record: RunRecord, method: MethodEdition, point: ReadingPoint, reading: float) -> float:
    """Effective depth, with the insertion term added back while the hydrometer has stayed in."""
    depth_cm = effective_depth_cm(record.hydrometer, reading)
    until_s = method.still_inserted_until_s
    if until_s is not None and point.elapsed_s <= until_s:
        depth_cm += record.hydrometer.insertion_displacement_cm
    return depth_cm


def paths(record: RunRecord) -> dict[int, SettlingPath]:
    """Settling integrals by reading index, over the temperatures of all slots somebody stood at."""
    logged = [
        (index, point)
        for index, point in enumerate(record.readings)
        if point.state is not ReadingState.MISSED
    ]
    integrals = settling_paths(
        [point.elapsed_s for _, point in logged],
        [point.at_c for _, point in logged],
        record.dispersant_g_l,
    )
    return {index: path for (index, _), path in zip(logged, integrals, strict=True)}


def size_points(record: RunRecord, method: MethodEdition, portion_g: float) -> tuple[SizePoint, ...]:
    """Points before smoothing, in order of elapsed time; readings that are no data are left out."""
    settled = paths(record)
    return tuple(
        _size_point(record, method, portion_g, index, point, settled[index])
        for index, point in enumerate(record.readings)
        if usable(record, point)
    )


def _size_point(
    record: RunRecord,
    method: MethodEdition,
    portion_g: float,
    index: int,
    point: ReadingPoint,
    path: SettlingPath,
) -> SizePoint:
    scale, density = record.hydrometer.scale, record.particle_density_g_cm3
    correction = correction_taken(record, point)
    assert point.reading is not None
    assert correction is not None
    net = above_zero(scale, point.reading) - correction
    concentration_g_l = concentration_factor(scale, density) * net
    depth_cm = depth_at_cm(record, method, point, point.reading)
    diameter_um = path.diameter_um(depth_cm, density)
    percent = 100.0 * concentration_g_l * record.volume_ml / 1000.0 / portion_g
    return SizePoint(
        reading_index=index,
        elapsed_s=point.elapsed_s,
        temperature_c=point.at_c,
        reading=point.reading,
        blank_reading=point.blank_reading,
        correction_graduations=correction,
        concentration_g_l=concentration_g_l,
        effective_depth_cm=depth_cm,
        diameter_um=diameter_um,
        reynolds=reynolds_number(
            diameter_um,
            depth_cm / point.elapsed_s,
            solution_density_g_cm3(point.at_c, record.dispersant_g_l),
            solution_viscosity_mpa_s(point.at_c, record.dispersant_g_l),
        ),
        percent_finer=percent,
        percent_finer_curve=percent,
    )


def by_size(points: Sequence[SizePoint]) -> list[SizePoint]:
    """Points in falling order of diameter."""
    return sorted(points, key=lambda point: -point.diameter_um)


def smoothed(points: tuple[SizePoint, ...]) -> tuple[SizePoint, ...]:
    """Points with their `percent_finer_curve`, which never rises towards finer sizes."""
    order = sorted(range(len(points)), key=lambda k: -points[k].diameter_um)
    curve = dict(zip(order, non_rising([points[k].percent_finer for k in order]), strict=True))
    return tuple(replace(point, percent_finer_curve=curve[k]) for k, point in enumerate(points))


def read_at(
    points: Sequence[SizePoint], method: MethodEdition, limit_um: float, factor: float
) -> ReadOff | None:
    """Smoothed percent finer at a limit by the edition's rule; None further than factor beyond the points."""
    ordered = by_size(points)
    percents = [point.percent_finer_curve for point in ordered]
    return percent_finer_at(
        [point.diameter_um for point in ordered], percents, limit_um, method.interpolation, factor
    )


def largest_adjustment_pct(points: tuple[SizePoint, ...]) -> float:
    """Largest change made by the smoothing. [%]"""
    return max((abs(p.percent_finer_curve - p.percent_finer) for p in points), default=0.0)
