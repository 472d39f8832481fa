"""Sand, silt and clay at stated limits, and their rounding for print."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor

from particles.distribution.curve.beyond_last import clay_by_day_line
from particles.distribution.curve.points import read_at
from particles.distribution.curve.reading_off import ReadOff
from particles.distribution.curve.sand_at_limit import SievedSand, sieved_sand
from particles.distribution.findings.join import join_finding
from particles.distribution.inputs.noise import net_sd_g_l, percent_per_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import (
    ClayExtrapolation,
    Estimate,
    Finding,
    Fractions,
    RunRecord,
    Severity,
    SizePoint,
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


def take_fractions(
    record: RunRecord, method: MethodEdition, points: Sequence[SizePoint], portion_g: float
) -> tuple[Fractions | None, list[Finding]]:
    """Sand, silt (by difference) and clay without doubt attached; None when a limit is not reached."""
    found: list[Finding] = []
    clay = _read(points, method, method.clay_limit_um, "clay", found)
    weighed = sieved_sand(record, method, points, portion_g)
    if record.sieving and weighed is None:
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
    if weighed is not None:
        sand = _sand_pct(weighed, method)
        passing = 100.0 - weighed.retained_pct
        found.append(join_finding(record, method, points, portion_g, weighed.opening_um, passing))
        if sand is None:
            sentence = f"No sand figure: no point lies on the other side of {method.sand_limit_um:g} µm from the sieve."
            step = "Take an earlier reading, or a sieve on the other side of the limit."
            found.append(
                Finding("sand_limit_not_reached", Severity.STOP, sentence, step, weighed.opening_um, "µm")
            )
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
    by = "sieve" if weighed is not None else "hydrometer"
    return Fractions(*estimates, method.clay_limit_um, method.sand_limit_um, by), found


def _sand_pct(weighed: SievedSand, method: MethodEdition) -> float | None:
    if not method.sand_at_limit:
        return weighed.retained_pct
    return None if weighed.between_pct is None else weighed.retained_pct + weighed.between_pct


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
