"""Sand, silt and clay at stated limits, and their rounding for print."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor

from .curve import EXTRAPOLATION_FACTOR, percent_finer_at
from .methods import MethodEdition
from .quantities import Estimate, Finding, Fractions, RunRecord, Severity, SieveMass, Sieving, SizePoint
from .sieving import retained_g, sand_sieve

NEGATIVE_LIMIT_PCT = -2.0
"""Between this and zero a fraction is shown with a warning; below it nothing is certified."""
JOIN_WARN_PCT = 3.0
JOIN_STOP_PCT = 5.0


def by_size(points: Sequence[SizePoint]) -> list[SizePoint]:
    """In falling order of diameter."""
    return sorted(points, key=lambda point: -point.diameter_um)


def _read(points: Sequence[SizePoint], limit_um: float, name: str, found: list[Finding]) -> float | None:
    """Smoothed percent finer at a limit; says so when it lies beyond the points or cannot be reached."""
    ordered = by_size(points)
    diameters = [point.diameter_um for point in ordered]
    at = percent_finer_at(diameters, [point.percent_finer_curve for point in ordered], limit_um)
    end_um = min(diameters, key=lambda d: abs(d - limit_um)) if diameters else None
    if at is None:
        reach = f"the nearest point lies at {end_um:.2f} µm" if end_um else "there is no point"
        found.append(
            Finding(
                f"{name}_limit_not_reached",
                Severity.STOP,
                f"No {name} figure: the limit is {limit_um:g} µm and {reach}.",
                f"Take a reading that brackets the limit, or one within a factor {EXTRAPOLATION_FACTOR:g}.",
                end_um,
                "µm",
            )
        )
        return None
    if at.extrapolated_factor > 1.0:
        found.append(
            Finding(
                f"{name}_limit_extrapolated",
                Severity.WARN,
                f"The {name} limit of {limit_um:g} µm lies a factor {at.extrapolated_factor:.2f} beyond the "
                f"last point at {end_um:.2f} µm; the line was extended.",
                "Print it with the result; plan the reading closer to the limit next time.",
                at.extrapolated_factor,
            )
        )
    return at.percent


def _sand_by_sieve(
    sieving: Sieving, points: Sequence[SizePoint], portion_g: float, sieve: SieveMass, found: list[Finding]
) -> float:
    sand = 100.0 * retained_g(sieving, sieve) / portion_g
    ordered = by_size(points)
    at = percent_finer_at(
        [p.diameter_um for p in ordered], [p.percent_finer_curve for p in ordered], sieve.opening_um
    )
    if at is None:
        found.append(
            Finding(
                "join_not_compared",
                Severity.NOTE,
                f"No hydrometer point near the {sieve.opening_um:g} µm sieve, so the join was not compared.",
                "Nothing to do; an early reading would allow it.",
                sieve.opening_um,
                "µm",
            )
        )
        return sand
    step = (100.0 - sand) - at.percent
    if abs(step) >= JOIN_WARN_PCT:
        found.append(
            Finding(
                "join_apart",
                Severity.STOP if abs(step) > JOIN_STOP_PCT else Severity.WARN,
                f"At {sieve.opening_um:g} µm the sieve passes {100.0 - sand:.1f} % and the hydrometer shows "
                f"{at.percent:.1f} %, a step of {abs(step):.1f} points.",
                "Check washing, mass, particle density and that both belong to one portion.",
                step,
                "%",
            )
        )
    return sand


def take_fractions(
    record: RunRecord, method: MethodEdition, points: Sequence[SizePoint], portion_g: float
) -> tuple[Fractions | None, list[Finding]]:
    """Sand, silt (by difference) and clay without doubt attached; None when a limit is not reached."""
    found: list[Finding] = []
    clay = _read(points, method.clay_limit_um, "clay", found)
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
        sand: float | None = _sand_by_sieve(record.sieving, points, portion_g, sieve, found)
    else:
        finer = _read(points, method.sand_limit_um, "sand", found)
        sand = None if finer is None else 100.0 - finer
    if clay is None or sand is None:
        return None, found
    silt = 100.0 - sand - clay
    found += [
        f for name, part in (("clay", clay), ("silt", silt), ("sand", sand)) for f in _negative(name, part)
    ]
    estimates = (Estimate(clay), Estimate(silt), Estimate(sand))
    by = "sieve" if sieve is not None else "hydrometer"
    return Fractions(*estimates, method.clay_limit_um, method.sand_limit_um, by), found


def _negative(name: str, percent: float) -> list[Finding]:
    if percent >= 0.0:
        return []
    severity = Severity.WARN if percent >= NEGATIVE_LIMIT_PCT else Severity.STOP
    sentence = f"The {name} fraction comes out at {percent:.2f} %, below nothing."
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
