"""
From the doubt of what goes in to the doubt of sand, silt, clay and class, by Monte Carlo.

Every draw is a whole run: shared inputs drawn once, readings one by one, then the same smoothing and the
same reading off as the run itself (JCGM 101, propagation of distributions; from memory).
"""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
from numpy.typing import NDArray

from .fractions import by_size
from .hydrometer import concentration_factor, density_factor, depth_per_unit_cm, soil_per_scale_unit_g_l
from .methods import MethodEdition
from .points import paths
from .portion import PortionMass
from .quantities import Estimate, Fractions, HydrometerScale, RunRecord, SizePoint, TextureClass
from .sieving import retained_g, sand_sieve
from .texture import USDA_CLASSES, onto_triangle, usda_codes
from .water import HIGHEST_C, LOWEST_C, solution_density_g_cm3, solution_viscosity_mpa_s

Floats = NDArray[np.float64]
LEAST_DRAWS = 100


def with_uncertainty(
    record: RunRecord,
    method: MethodEdition,
    points: tuple[SizePoint, ...],
    mass: PortionMass,
    fractions: Fractions,
    texture: TextureClass | None,
    draws: int,
    seed: int,
) -> tuple[Fractions, TextureClass | None]:
    """The same fractions and class with standard uncertainty, 95 % interval and class chances."""
    random = np.random.Generator(np.random.PCG64(seed))
    sand, silt, clay = draw_fractions(record, method, points, mass, draws, random)
    doubted = replace(
        fractions,
        sand=_estimate(fractions.sand, sand),
        silt=_estimate(fractions.silt, silt),
        clay=_estimate(fractions.clay, clay),
    )
    if texture is None:
        return doubted, None
    codes = usda_codes(*onto_triangle(sand, silt, clay))
    counts = np.bincount(codes, minlength=len(USDA_CLASSES))
    chances = sorted(zip(USDA_CLASSES, counts.tolist(), strict=True), key=lambda pair: -pair[1])
    return doubted, replace(texture, chances=tuple((name, n / draws) for name, n in chances if n))


def _estimate(nominal: Estimate, drawn: Floats) -> Estimate:
    low, high = np.percentile(drawn, (2.5, 97.5))
    return Estimate(nominal.value_pct, float(np.std(drawn, ddof=1)), float(low), float(high))


def draw_fractions(
    record: RunRecord,
    method: MethodEdition,
    points: tuple[SizePoint, ...],
    mass: PortionMass,
    draws: int,
    random: np.random.Generator,
) -> tuple[Floats, Floats, Floats]:
    """Sand, silt and clay of each draw, (draws,) each, not clipped. [%]"""
    doubt = method.uncertainties
    ordered = by_size(points)
    density = record.particle_density_g_cm3 + doubt.particle_density_g_cm3 * random.standard_normal(draws)
    masses = mass.mass_g + doubt.mass_g * random.standard_normal(draws)
    if mass.derived:
        masses *= 1.0 + doubt.moisture_of_mass_pct / 100.0 * random.standard_normal(draws)
    noise = _reading_noise(record, method, len(ordered), draws, random)
    log_d = _log_diameters(record, method, ordered, density, noise, random)
    noise += doubt.blank_g_l * random.standard_normal(draws)
    litres = record.volume_ml / 1000.0 * (1.0 + doubt.volume_pct / 100.0 * random.standard_normal(draws))
    finer = _percent_finer(record, ordered, density, noise, 100.0 * litres / masses)
    finer = non_rising_draws(finer)
    clay = _read_off(log_d, finer, method.clay_limit_um)
    sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um) if record.sieving else None
    if sieve is not None and record.sieving is not None:
        sand = 100.0 * retained_g(record.sieving, sieve) / masses
    else:
        sand = 100.0 - _read_off(log_d, finer, method.sand_limit_um)
    clay += method.dispersion_sd_pct * random.standard_normal(draws)
    sand += method.dispersion_sd_pct * random.standard_normal(draws)
    return sand, 100.0 - sand - clay, clay


def _reading_noise(
    record: RunRecord, method: MethodEdition, n: int, draws: int, random: np.random.Generator
) -> Floats:
    """(n, draws) own error of each reading, scale division included. [g/L at 2.65 g/cm³]"""
    doubt, scale = method.uncertainties, record.hydrometer.scale
    division_g_l = doubt.scale_division_g_l
    if scale is HydrometerScale.RELATIVE_DENSITY:
        division_g_l = doubt.scale_division_density * soil_per_scale_unit_g_l(scale)
    noise: Floats = random.standard_normal((n, draws))
    noise *= doubt.reading_g_l
    noise += division_g_l * (random.random((n, draws)) - 0.5)
    return noise


def _percent_finer(
    record: RunRecord, ordered: list[SizePoint], density: Floats, noise: Floats, percent_per_g_l: Floats
) -> Floats:
    """(n, draws) percent finer before smoothing. [%]"""
    scale, nominal = record.hydrometer.scale, record.particle_density_g_cm3
    measured = np.array([[point.concentration_g_l] for point in ordered])
    heavier = concentration_factor(scale, density) / concentration_factor(scale, nominal)
    return (measured * heavier + density_factor(density) * noise) * percent_per_g_l


def _log_diameters(
    record: RunRecord,
    method: MethodEdition,
    ordered: list[SizePoint],
    density: Floats,
    noise: Floats,
    random: np.random.Generator,
) -> Floats:
    """(n, draws) natural logarithm of the diameter in µm, by the same integrals as the run itself."""
    doubt, draws, density_0 = method.uncertainties, density.size, record.particle_density_g_cm3
    warmer_c = doubt.temperature_c * random.standard_normal(draws)
    longer_s = doubt.start_s * random.standard_normal(draws)
    deeper_cm = doubt.depth_cm * random.standard_normal(draws)
    settled, unit_g_l = paths(record), soil_per_scale_unit_g_l(record.hydrometer.scale)
    logs = np.empty_like(noise)
    for k, point in enumerate(ordered):
        path, depth_cm = settled[point.reading_index], point.effective_depth_cm
        shrink = depth_per_unit_cm(record.hydrometer, point.reading) / unit_g_l
        liquid_g_cm3 = path.weighted / path.fluidity
        # First order in the logarithm: depth, time and warmth move by a few percent at most.
        change = (deeper_cm - shrink * noise[k]) / depth_cm - longer_s / point.elapsed_s
        change -= _quicker_per_c(record, point) * warmer_c
        change -= np.log((density - liquid_g_cm3) / (density_0 - liquid_g_cm3))
        logs[k] = log(point.diameter_um) + change / 2.0
    return logs


def _quicker_per_c(record: RunRecord, point: SizePoint) -> float:
    """Relative gain of settling speed per C of warmth. [1/C]"""
    middle_c = min(max(point.temperature_c, LOWEST_C + 0.5), HIGHEST_C - 0.5)
    colder, warmer = (
        (record.particle_density_g_cm3 - solution_density_g_cm3(t, record.dispersant_g_l))
        / solution_viscosity_mpa_s(t, record.dispersant_g_l)
        for t in (middle_c - 0.5, middle_c + 0.5)
    )
    return log(warmer / colder)


def non_rising_draws(percents: Floats) -> Floats:
    """
    Isotonic fit of every draw, equal weights, by the max-min formula of pooled means.

    Parameters
    ----------
    percents : (n, draws) percent finer in order of falling diameter. [%]

    Returns
    -------
    (n, draws) lines up with percents; columns that never rise come back as they were. [%]
    """
    rising = np.flatnonzero((percents[1:] > percents[:-1]).any(axis=0))
    if not rising.size:
        return percents
    part = percents[:, rising]
    n = part.shape[0]
    fitted = np.full_like(part, np.inf)
    for first in range(n):
        counts = np.arange(1.0, n - first + 1.0)[:, np.newaxis]
        means = np.cumsum(part[first:], axis=0) / counts
        highest = np.maximum.accumulate(means[::-1], axis=0)[::-1]
        np.minimum(fitted[first:], highest, out=fitted[first:])
    whole = percents.copy()
    whole[:, rising] = fitted
    return whole


def _read_off(log_d: Floats, percents: Floats, limit_um: float) -> Floats:
    """(draws,) percent finer at a limit, straight in log diameter, the outer lines extended. [%]"""
    limit = log(limit_um)
    k = np.clip(np.count_nonzero(log_d > limit, axis=0) - 1, 0, len(log_d) - 2)
    column = np.arange(log_d.shape[1])
    coarse, fine = log_d[k, column], log_d[k + 1, column]
    high, low = percents[k, column], percents[k + 1, column]
    read: Floats = high + (limit - coarse) / (fine - coarse) * (low - high)
    return read
