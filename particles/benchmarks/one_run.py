"""
The model of one drawn run written a second time, one draw at a time and without its simplifications.

Depth, time and temperature act through the hydrometer's own line and the settling integrals, not to first order in
the logarithm. Serves a general-purpose uncertainty library as its function, and the core as an independent check.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import hypot, sqrt

from particles.distribution import MethodEdition, RunRecord
from particles.distribution.curve.bend import bend_at
from particles.distribution.curve.points import by_size, size_points, smoothed
from particles.distribution.curve.reading_off import non_rising, percent_finer_at
from particles.distribution.inputs.between_run import between_run_sds
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.record import HydrometerScale
from particles.distribution.settling.hydrometer import (
    concentration_factor,
    density_factor,
    effective_depth_cm,
    soil_per_scale_unit_g_l,
    temperature_difference_correction,
)
from particles.distribution.settling.stokes import settling_paths

SHARED = (
    "density",
    "mass",
    "moisture",
    "blank",
    "volume",
    "temperature",
    "start",
    "depth",
    "clay",
    "sand",
    "clay reading off",
    "sand reading off",
)


def input_count(record: RunRecord) -> tuple[int, int]:
    """Numbers of normal and of even inputs that the function of a record takes, in this order."""
    return len(SHARED) + 2 * len(record.readings), len(record.readings)


def one_run(record: RunRecord, method: MethodEdition) -> Callable[[Sequence[float]], list[float]]:
    """
    Function from errors in standard deviations to [sand, silt, clay] in percent.

    For a run with all its readings, each with a blank of its own, straight interpolation, sand by the hydrometer and
    a spread between runs that is alike at all contents.
    Errors: SHARED, then one normal per reading, one per blank, and one from -0.5 to 0.5 of a division per reading.
    """
    mass = portion_mass(record)
    assert mass is not None
    uncertainties = method.uncertainties
    between = between_run_sds(record, method, sand_pct=50.0, clay_pct=50.0)
    scale, nominal = record.hydrometer.scale, record.particle_density_g_cm3
    unit_g_l = soil_per_scale_unit_g_l(scale)
    points = size_points(record, method, mass.mass_g)
    n, count = len(points), len(SHARED)
    division_g_l = uncertainties.scale_division_g_l
    if scale is HydrometerScale.RELATIVE_DENSITY:
        division_g_l = uncertainties.scale_division_density * unit_g_l
    net = [point.concentration_g_l / concentration_factor(scale, nominal) for point in points]
    itself = by_size(smoothed(points))
    steps = [p.diameter_um for p in itself], [p.percent_finer_curve for p in itself]
    clay_bend, sand_bend = (
        bend_at(*steps, limit_um) for limit_um in (method.clay_limit_um, method.sand_limit_um)
    )
    bias, share = uncertainties.reading_off_bias, uncertainties.reading_off_share
    extra_cm = [p.effective_depth_cm - effective_depth_cm(record.hydrometer, p.reading) for p in points]

    blank_sd_g_l = [
        hypot(
            uncertainties.blank_reading_g_l,
            sqrt(2.0) * uncertainties.thermometer_c * unit_g_l * _denser_per_c(scale, p.temperature_c),
        )
        for p in points
    ]

    def function(errors: Sequence[float]) -> list[float]:
        shared = dict(zip(SHARED, errors, strict=False))
        density = nominal + uncertainties.particle_density_g_cm3 * shared["density"]
        mass_g = mass.mass_g + uncertainties.mass_g * shared["mass"]
        if mass.derived:
            mass_g *= 1.0 + uncertainties.moisture_of_mass_pct / 100.0 * shared["moisture"]
        litres = record.volume_ml / 1000.0 * (1.0 + uncertainties.volume_pct / 100.0 * shared["volume"])
        times = [point.elapsed_s + uncertainties.start_s * shared["start"] for point in points]
        temperatures_c = [
            point.temperature_c + uncertainties.temperature_c * shared["temperature"] for point in points
        ]
        paths = settling_paths(times, temperatures_c, record.dispersant_g_l)
        sizes, percents = [], []
        for k, (point, path) in enumerate(zip(points, paths, strict=True)):
            noise_g_l = (
                uncertainties.reading_g_l * errors[count + k] + division_g_l * errors[count + 2 * n + k]
            )
            blank_g_l = uncertainties.blank_g_l * shared["blank"] + blank_sd_g_l[k] * errors[count + n + k]
            depth_cm = effective_depth_cm(record.hydrometer, point.reading + noise_g_l / unit_g_l)
            depth_cm += extra_cm[k] + uncertainties.depth_cm * shared["depth"]
            sizes.append(path.diameter_um(depth_cm, density))
            held_g_l = concentration_factor(scale, density) * net[k]
            held_g_l += density_factor(density) * (noise_g_l + blank_g_l)
            percents.append(100.0 * held_g_l * litres / mass_g)
        order = sorted(range(n), key=lambda k: -sizes[k])
        ordered, smooth = [sizes[k] for k in order], non_rising([percents[k] for k in order])
        clay = percent_finer_at(ordered, smooth, method.clay_limit_um, factor=float("inf"))
        coarse = percent_finer_at(ordered, smooth, method.sand_limit_um, factor=float("inf"))
        assert clay is not None
        assert coarse is not None
        clay_pct = clay.percent + between.clay_pct * shared["clay"]
        clay_pct += bias * clay_bend.bias_pct + share * clay_bend.magnitude_pct * shared["clay reading off"]
        sand_pct = 100.0 - coarse.percent + between.sand_pct * shared["sand"]
        sand_pct -= bias * sand_bend.bias_pct + share * sand_bend.magnitude_pct * shared["sand reading off"]
        return [sand_pct, 100.0 - sand_pct - clay_pct, clay_pct]

    return function


def _denser_per_c(scale: HydrometerScale, temperature_c: float) -> float:
    """Fall of a blank's reading per C, in scale units."""
    taken = temperature_difference_correction(scale, temperature_c + 0.5, temperature_c - 0.5)
    return taken if scale is HydrometerScale.GRAMS_PER_LITRE else taken / 1000.0
