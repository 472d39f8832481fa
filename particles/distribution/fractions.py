"""Sand, silt and clay at stated limits, and their rounding for print."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor

from .clay_line import clay_by_day_line
from .curve import ReadOff, percent_finer_at
from .limits import QualityLimits
from .methods import MethodEdition
from .noise import net_sd_g_l, percent_per_g_l
from .quantities import (
    ClayExtrapolation,
    Estimate,
    Finding,
    Fractions,
    RunRecord,
    Severity,
    SizePoint,
)
from .sieving import retained_g, sand_sieve, sieved_portion_g


def by_size(points: Sequence[SizePoint]) -> list[SizePoint]:
    """In falling order of diameter."""
    return sorted(points, key=lambda point: -point.diameter_um)


def read_at(
    points: Sequence[SizePoint], method: MethodEdition, limit_um: float, factor: float
) -> ReadOff | None:
    """Smoothed percent finer at a limit by the edition's rule; None further than factor beyond the points."""
    ordered = by_size(points)
    percents = [point.percent_finer_curve for point in ordered]
    return percent_finer_at(
        [point.diameter_um for point in ordered], percents, limit_um, method.interpolation, factor
    )


def clay_read_off(points: Sequence[SizePoint], method: MethodEdition) -> ReadOff | None:
    """Percent finer at the clay limit, beyond the last point by the edition's rule of extrapolation."""
    limit_um, factor = method.clay_limit_um, method.limits.extrapolation_factor
    rule = method.clay_extrapolation
    if rule is ClayExtrapolation.NONE:
        return read_at(points, method, limit_um, 1.0)
    at = read_at(points, method, limit_um, factor)
    if rule is ClayExtrapolation.FACTOR or at is None or at.extrapolated_factor == 1.0:
        return at
    return clay_by_day_line(points, limit_um, at.extrapolated_factor)


def _read(
    points: Sequence[SizePoint], method: MethodEdition, limit_um: float, name: str, found: list[Finding]
) -> float | None:
    """Smoothed percent finer at a limit; says so when it lies beyond the points or cannot be reached."""
    factor = method.limits.extrapolation_factor
    at = clay_read_off(points, method) if name == "clay" else read_at(points, method, limit_um, factor)
    end_um = min((p.diameter_um for p in points), key=lambda d: abs(d - limit_um), default=None)
    if at is None:
        reach = f"the nearest point lies at {end_um:.2f} µm" if end_um else "there is no point"
        found.append(
            Finding(
                f"{name}_limit_not_reached",
                Severity.STOP,
                f"No {name} figure: the limit is {limit_um:g} µm and {reach}.",
                f"Take a reading that brackets the limit, or one within a factor {factor:g}.",
                end_um,
                "µm",
            )
        )
        return None
    if at.extrapolated_factor > 1.0:
        line = "the line"
        if name == "clay" and method.clay_extrapolation is ClayExtrapolation.DAY_LINE:
            line = "the line through the readings at 1.5 h and 24 h"
        found.append(
            Finding(
                f"{name}_limit_extrapolated",
                Severity.WARN,
                f"The {name} limit of {limit_um:g} µm lies a factor {at.extrapolated_factor:.2f} beyond the "
                f"last point at {end_um:.2f} µm; {line} was extended.",
                "Print it with the result; plan the reading closer to the limit next time.",
                at.extrapolated_factor,
            )
        )
    return at.percent


def _join(passing: float, at: ReadOff | None, opening_um: float, method: MethodEdition) -> Finding:
    """join_not_compared, join_accepted or join_apart: how sieve and hydrometer meet."""
    if at is None:
        sentence = f"No hydrometer point near the {opening_um:g} µm sieve, so the join was not compared."
        step = "Nothing to do; an early reading would allow it."
        return Finding("join_not_compared", Severity.NOTE, sentence, step, opening_um, "µm")
    apart, limits = passing - at.percent, method.limits
    sentence = (
        f"At {opening_um:g} µm the sieve passes {passing:.1f} % and the hydrometer shows "
        f"{at.percent:.1f} %, a step of {abs(apart):.1f} points."
    )
    if abs(apart) < limits.join_warn_pct:
        return Finding("join_accepted", Severity.NOTE, sentence, "Nothing to do.", apart, "%")
    severity = Severity.STOP if abs(apart) > limits.join_stop_pct else Severity.WARN
    step = "Check washing, mass, particle density and that both belong to one portion."
    return Finding("join_apart", severity, sentence, step, apart, "%")


def take_fractions(
    record: RunRecord, method: MethodEdition, points: Sequence[SizePoint], portion_g: float
) -> tuple[Fractions | None, list[Finding]]:
    """Sand, silt (by difference) and clay without doubt attached; None when a limit is not reached."""
    found: list[Finding] = []
    clay = _read(points, method, method.clay_limit_um, "clay", found)
    sieve = sand_sieve(record.sieving, method.sand_sieve_openings_um) if record.sieving else None
    if record.sieving and sieve is None:
        low, high = method.sand_sieve_openings_um
        found.append(
            Finding(
                "no_sand_sieve",
                Severity.STOP,
                f"None of the sieves has an opening of {low:g} to {high:g} µm, the sand limit.",
                "Sieve the sand on the sieve of the limit; sand is shown from the hydrometer.",
                record.sieving.sieves[-1].opening_um if record.sieving.sieves else None,
                "µm",
            )
        )
    if record.sieving and sieve is not None:
        basis_g = sieved_portion_g(record.sieving, portion_g)
        retained = 100.0 * retained_g(record.sieving, sieve) / basis_g
        sand: float | None = retained
        at = read_at(points, method, sieve.opening_um, method.limits.extrapolation_factor)
        found.append(_join(100.0 - retained, at, sieve.opening_um, method))
    else:
        finer = _read(points, method, method.sand_limit_um, "sand", found)
        sand = None if finer is None else 100.0 - finer
    if clay is None or sand is None:
        return None, found
    silt = 100.0 - sand - clay
    noise_pct = net_sd_g_l(record, method) * percent_per_g_l(record, portion_g)
    found += [
        f
        for name, part in (("clay", clay), ("silt", silt), ("sand", sand))
        for f in _negative(name, part, method.limits, noise_pct)
    ]
    estimates = (Estimate(clay), Estimate(silt), Estimate(sand))
    by = "sieve" if sieve is not None else "hydrometer"
    return Fractions(*estimates, method.clay_limit_um, method.sand_limit_um, by), found


def _negative(name: str, percent: float, limits: QualityLimits, noise_pct: float) -> list[Finding]:
    if percent >= 0.0:
        return []
    severity, beside = Severity.NOTE, "; reading noise can do as much"
    if percent < limits.negative_fraction_pct:
        severity, beside = Severity.STOP, ""
    elif percent < -limits.noise_warn_sd * noise_pct:
        severity, beside = Severity.WARN, ""
    sentence = f"The {name} fraction comes out at {percent:.2f} %, below nothing{beside}."
    step = "Check blank, mass and sieving; it is shown as it is, the class is that of the nearest real soil."
    return [Finding(f"{name}_negative", severity, sentence, step, percent, "%")]


def round_to_total(parts_pct: Sequence[float], decimals: int = 0) -> tuple[float, ...]:
    """
    Parts rounded for print so that they add up to their rounded total, by largest remainder.

    Parameters
    ----------
    parts_pct : (n,) unrounded, n >= 1. [%]
    decimals : digits after the point.

    Returns
    -------
    (n,) lines up with parts_pct. [%]
    """
    scale = 10**decimals
    scaled = [part * scale for part in parts_pct]
    floors = [floor(part) for part in scaled]
    spare = round(sum(scaled)) - sum(floors)
    by_remainder = sorted(range(len(scaled)), key=lambda k: floors[k] - scaled[k])
    for k in by_remainder[:spare]:
        floors[k] += 1
    return tuple(part / scale for part in floors)
