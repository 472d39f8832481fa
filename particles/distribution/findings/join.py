"""How sieve and hydrometer meet: the step between them, and what reading noise and settling can do to it."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log, sqrt
from typing import Any

from particles.distribution.answer import CurvePoint, Finding, Severity, SizePoint
from particles.distribution.curve.interpolation import segment_of
from particles.distribution.curve.points import by_size, read_at
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.between_run import between_run_sds
from particles.distribution.inputs.noise import net_sd_g_l, percent_per_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord

FASTER_PER_C = 0.024
"""Relative gain of settling speed per C, by the viscosity of water near 20 C. [1/C]"""


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
        sd_pct = hypot(
            _read_off_sd_pct(record, method, ordered, portion_g, opening_um),
            _portions_sd_pct(record, method, passing_pct),
        )
        step_pct = passing_pct - at.percent
        return _judged(
            "at_sieve",
            step_pct,
            sd_pct,
            method,
            opening_um=opening_um,
            passing_pct=passing_pct,
            hydrometer_pct=at.percent,
        )
    if ordered and ordered[0].diameter_um < opening_um:
        first = ordered[0]
        step_pct = min(passing_pct - first.percent_finer_curve, 0.0)
        if step_pct < -method.limits.join_warn_pct:
            sd_pct = hypot(
                _reading_sd_pct(record, method, portion_g), _portions_sd_pct(record, method, passing_pct)
            )
            return _judged(
                "beyond_sieve",
                step_pct,
                sd_pct,
                method,
                opening_um=opening_um,
                passing_pct=passing_pct,
                hydrometer_pct=first.percent_finer_curve,
                first_um=first.diameter_um,
            )
    return finding("join_not_compared", number=opening_um)


def held_findings(curve: Sequence[CurvePoint]) -> list[Finding]:
    """curve_held: points of the hydrometer above what passed the sieve over them."""
    held = [point for point in curve if point.held_pct is not None]
    if not held:
        return []
    most = max(held, key=lambda point: point.percent_finer - point.read_pct)
    return [
        finding(
            "curve_held",
            number=most.percent_finer - most.read_pct,
            count=len(held),
            diameter_um=most.diameter_um,
            shown_pct=most.percent_finer,
            passed_pct=most.read_pct,
        )
    ]


def _judged(where: str, step_pct: float, sd_pct: float, method: MethodEdition, **shown: float) -> Finding:
    """The step in the words for `where`, which begin its variants; `shown` goes into the sentence."""
    limits, far = method.limits, abs(step_pct)
    values: dict[str, Any] = {"number": step_pct, "step_pct": far, **shown}
    if far < limits.join_warn_pct:
        return finding("join_accepted", variant=where, **values)
    if far <= limits.noise_warn_sd * sd_pct:
        return finding("join_accepted", variant=f"{where}_within_noise", **values)
    stop = far > max(limits.join_stop_pct, limits.noise_stop_sd * sd_pct)
    return finding("join_apart", variant=where, severity=Severity.STOP if stop else Severity.WARN, **values)


def _reading_sd_pct(record: RunRecord, method: MethodEdition, portion_g: float) -> float:
    """Standard deviation of the percent behind one corrected reading. [%]"""
    return net_sd_g_l(record, method) * percent_per_g_l(record, portion_g)


def _portions_sd_pct(record: RunRecord, method: MethodEdition, passing_pct: float) -> float:
    """Standard deviation between two portions, 0 when the sand was washed out of the one in the cylinder. [%]"""
    if record.sieving is None or record.sieving.portion_oven_dry_mass_g is None:
        return 0.0
    sand_pct = 100.0 - passing_pct
    return sqrt(2.0) * between_run_sds(record, method, sand_pct=sand_pct, clay_pct=0.0).sand_pct


def _read_off_sd_pct(
    record: RunRecord,
    method: MethodEdition,
    ordered: Sequence[SizePoint],
    portion_g: float,
    size_um: float,
) -> float:
    """Standard deviation of a percent read off between two points: their noise, and what moves both in size. [%]"""
    k = segment_of([point.diameter_um for point in ordered], size_um)
    coarse, fine = ordered[k], ordered[k + 1]
    width = log(coarse.diameter_um / fine.diameter_um)
    share = log(coarse.diameter_um / size_um) / width
    noise = _reading_sd_pct(record, method, portion_g) * sqrt(share**2 + (1.0 - share) ** 2)
    slope = (coarse.percent_finer_curve - fine.percent_finer_curve) / width
    uncertainties = method.uncertainties
    moved = 0.5 * hypot(
        uncertainties.depth_cm / coarse.effective_depth_cm,
        uncertainties.start_s / coarse.elapsed_s,
        uncertainties.particle_density_g_cm3 / (record.particle_density_g_cm3 - 1.0),
        uncertainties.temperature_c * FASTER_PER_C,
    )
    return hypot(noise, slope * hypot(moved, uncertainties.sieve_opening_pct / 100.0))
