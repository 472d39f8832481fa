"""How sieve and hydrometer meet: the step between them, and what reading noise and settling can do to it."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log, sqrt

from particles.distribution.curve.interpolation import segment_of
from particles.distribution.curve.points import by_size, read_at
from particles.distribution.inputs.between_run import between_run_sd_pct
from particles.distribution.inputs.noise import net_sd_g_l, percent_per_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Finding, RunRecord, Severity, SizePoint

_CHECK = "Check washing, mass, particle density and that both belong to one portion."
WARMER_PER_C = 0.024
"""Relative gain of settling speed per C of warmth, by the viscosity of water near 20 C. [1/C]"""


def join_finding(
    record: RunRecord,
    method: MethodEdition,
    points: Sequence[SizePoint],
    portion_g: float,
    opening_um: float,
    passing_pct: float,
) -> Finding:
    """
    join_not_compared, join_accepted or join_apart.

    Parameters
    ----------
    points : (n,) smoothed, in any order.
    portion_g : oven-dry mass in the cylinder. [g]
    opening_um, passing_pct : of the sand sieve.

    Where the hydrometer does not reach the sieve, no line is extended to it: then only what no curve can do counts,
    more that is finer than the hydrometer's first point than what passed the sieve above it.
    """
    ordered, at = by_size(points), read_at(points, method, opening_um, 1.0)
    if at is not None:
        return _judged(
            f"At {opening_um:g} µm the sieve passes {passing_pct:.1f} % and the hydrometer shows {at.percent:.1f} %",
            passing_pct - at.percent,
            hypot(
                _read_off_sd_pct(record, method, ordered, portion_g, opening_um),
                _portions_sd_pct(record, method),
            ),
            method,
        )
    if ordered and ordered[0].diameter_um < opening_um:
        first = ordered[0]
        step = min(passing_pct - first.percent_finer_curve, 0.0)
        if step < -method.limits.join_warn_pct:
            said = (
                f"The {opening_um:g} µm sieve passes {passing_pct:.1f} % and the hydrometer shows "
                f"{first.percent_finer_curve:.1f} % already at {first.diameter_um:.1f} µm"
            )
            sd_pct = hypot(_reading_sd_pct(record, method, portion_g), _portions_sd_pct(record, method))
            return _judged(said, step, sd_pct, method)
    sentence = f"No hydrometer point beyond the {opening_um:g} µm sieve, so the join was not compared."
    step_next = "Nothing to do; an earlier reading would allow it."
    return Finding("join_not_compared", Severity.NOTE, sentence, step_next, opening_um, "µm")


def _judged(said: str, apart_pct: float, sd_pct: float, method: MethodEdition) -> Finding:
    limits, far = method.limits, abs(apart_pct)
    said = f"{said}, a step of {far:.1f} points"
    if far < limits.join_warn_pct:
        return Finding("join_accepted", Severity.NOTE, f"{said}.", "Nothing to do.", apart_pct, "%")
    if far <= limits.noise_warn_sd * sd_pct:
        said = f"{said}; reading and settling can do as much on this portion."
        return Finding("join_accepted", Severity.NOTE, said, "Nothing to do.", apart_pct, "%")
    stop = far > max(limits.join_stop_pct, limits.noise_stop_sd * sd_pct)
    return Finding("join_apart", Severity.STOP if stop else Severity.WARN, f"{said}.", _CHECK, apart_pct, "%")


def _reading_sd_pct(record: RunRecord, method: MethodEdition, portion_g: float) -> float:
    return net_sd_g_l(record, method) * percent_per_g_l(record, portion_g)


def _portions_sd_pct(record: RunRecord, method: MethodEdition) -> float:
    """Of the difference of two portions, when the sand was washed out of another than stood in the cylinder."""
    if record.sieving is None or record.sieving.portion_oven_dry_mass_g is None:
        return 0.0
    return sqrt(2.0) * between_run_sd_pct(record, method)


def _read_off_sd_pct(
    record: RunRecord,
    method: MethodEdition,
    ordered: Sequence[SizePoint],
    portion_g: float,
    size_um: float,
) -> float:
    """Standard deviation of a percent read off between two points: their noise, and what moves both in size."""
    k = segment_of([point.diameter_um for point in ordered], size_um)
    coarse, fine = ordered[k], ordered[k + 1]
    width = log(coarse.diameter_um / fine.diameter_um)
    share = log(coarse.diameter_um / size_um) / width
    noise = _reading_sd_pct(record, method, portion_g) * sqrt(share**2 + (1.0 - share) ** 2)
    slope = (coarse.percent_finer_curve - fine.percent_finer_curve) / width
    doubt = method.uncertainties
    moved = 0.5 * hypot(
        doubt.depth_cm / coarse.effective_depth_cm,
        doubt.start_s / coarse.elapsed_s,
        doubt.particle_density_g_cm3 / (record.particle_density_g_cm3 - 1.0),
        doubt.temperature_c * WARMER_PER_C,
    )
    return hypot(noise, slope * hypot(moved, doubt.sieve_opening_pct / 100.0))
