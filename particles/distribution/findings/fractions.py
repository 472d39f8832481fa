"""Findings on sand, silt and clay: limits not reached, figures below nothing, systems without a class."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import Finding, Fractions, Severity, SizePoint
from particles.distribution.curve.fractions import LimitRead, TakenFractions
from particles.distribution.curve.other_systems import reportable
from particles.distribution.findings.catalogue import finding
from particles.distribution.findings.join import join_finding
from particles.distribution.inputs.noise import net_sd_g_l, percent_per_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import ClayExtrapolation, RunRecord
from particles.distribution.texture.systems import TextureSystem


def fraction_findings(
    record: RunRecord,
    method: MethodEdition,
    points: Sequence[SizePoint],
    portion_g: float,
    taken: TakenFractions,
) -> list[Finding]:
    """Findings on the two limits, on the sieve that gave sand, on its join, and on fractions below nothing."""
    found = _clay(method, taken.clay) + _sand_sieve(record, method, taken)
    if taken.weighed is not None:
        opening_um, passing_pct = taken.weighed.opening_um, 100.0 - taken.weighed.retained_pct
        found.append(join_finding(record, method, points, portion_g, opening_um, passing_pct))
        if method.sand_at_limit and taken.weighed.between_pct is None:
            found.append(
                finding(
                    "sand_limit_not_reached",
                    variant="beside_sieve",
                    number=opening_um,
                    limit_um=method.sand_limit_um,
                )
            )
    if taken.sand is not None:
        found += _sand(method, taken.sand)
    if taken.fractions is not None:
        noise_pct = net_sd_g_l(record, method) * percent_per_g_l(record, portion_g)
        found += _negative(taken.fractions, method.limits, noise_pct)
    return found


def other_system_findings(without: Sequence[TextureSystem], method: MethodEdition) -> list[Finding]:
    """system_not_confirmed or system_limit_not_reached, for each system left without a class."""
    return [
        finding("system_limit_not_reached", number=system.sand_limit_um, system=system.title)
        if reportable(system, method.confirmed_systems)
        else finding("system_not_confirmed", system=system.title)
        for system in without
    ]


def _clay(method: MethodEdition, clay: LimitRead) -> list[Finding]:
    if clay.at is None:
        return [_not_reached("clay_limit_not_reached", method, clay)]
    if clay.at.extrapolated_factor <= 1.0:
        return []
    by_day_line = method.clay_extrapolation is ClayExtrapolation.DAY_LINE
    return [
        finding(
            "clay_limit_extrapolated",
            variant="day_line" if by_day_line else "line",
            number=clay.at.extrapolated_factor,
            limit_um=clay.limit_um,
            last_um=clay.nearest_um,
        )
    ]


def _sand(method: MethodEdition, sand: LimitRead) -> list[Finding]:
    if sand.at is None:
        return [_not_reached("sand_limit_not_reached", method, sand)]
    if sand.at.extrapolated_factor <= 1.0:
        return []
    return [
        finding(
            "sand_limit_extrapolated",
            number=sand.at.extrapolated_factor,
            limit_um=sand.limit_um,
            last_um=sand.nearest_um,
        )
    ]


def _not_reached(code: str, method: MethodEdition, read: LimitRead) -> Finding:
    return finding(
        code,
        variant="no_point" if read.nearest_um is None else "nearest",
        number=read.nearest_um,
        limit_um=read.limit_um,
        factor=method.limits.extrapolation_factor,
    )


def _sand_sieve(record: RunRecord, method: MethodEdition, taken: TakenFractions) -> list[Finding]:
    if record.sieving is None or taken.weighed is not None:
        return []
    low, high = method.sand_sieve_openings_um
    finest_um = record.sieving.sieves[-1].opening_um if record.sieving.sieves else None
    return [finding("no_sand_sieve", number=finest_um, low=low, high=high)]


def _negative(fractions: Fractions, limits: QualityLimits, noise_pct: float) -> list[Finding]:
    found: list[Finding] = []
    for code, part in (
        ("clay_negative", fractions.clay),
        ("silt_negative", fractions.silt),
        ("sand_negative", fractions.sand),
    ):
        percent = part.value_pct
        if percent >= 0.0:
            continue
        severity, variant = Severity.NOTE, "within_noise"
        if percent < limits.negative_fraction_pct:
            severity, variant = Severity.STOP, "beyond_noise"
        elif percent < -limits.noise_warn_sd * noise_pct:
            severity, variant = Severity.WARN, "beyond_noise"
        found.append(finding(code, variant=variant, severity=severity, number=percent))
    return found
