"""The order of steps from one record to one answer."""

from __future__ import annotations

from collections.abc import Sequence

from .blanks import correction_findings
from .checks import method_findings, point_findings, slot_findings, smoothing_findings, steadiness_findings
from .curve import joined_curve
from .errors import DrawsTooFewError
from .fractions import by_size, take_fractions
from .methods import MethodEdition
from .named_readings import named_readings
from .notes import notes
from .plain import record_digest as digest_with_engine
from .points import largest_adjustment_pct, size_points, smoothed
from .portion import portion_findings, portion_mass
from .quantities import CurvePoint, Finding, Fractions, RunRecord, SizeDistribution, SizePoint
from .refusals import refuse_impossible
from .sieving import percent_passing, sieving_findings
from .texture import USDA_LIMITS_UM, usda_class
from .uncertainty import LEAST_DRAWS, with_uncertainty

ENGINE_VERSION = "1.0.0"
"""Raised whenever any reported figure changes."""


def record_digest(record: RunRecord, method: MethodEdition) -> str:
    """SHA-256, in hex, of everything a result stands on: record, edition and engine version."""
    return digest_with_engine(record, method, ENGINE_VERSION)


def compute_distribution(
    record: RunRecord, method: MethodEdition, *, draws: int | None = None, seed: int | None = None
) -> SizeDistribution:
    """
    Size distribution, fractions, class and findings of one run.

    Parameters
    ----------
    record : everything measured.
    method : the edition it is computed by.
    draws : Monte Carlo draws; None for the edition's own number, 0 for figures without uncertainty.
    seed : of the draws; None derives it from the record's digest, so the same record gives the same figures.

    Returns
    -------
    The answer, its findings included. A stop finding forbids a certified result, not the figures.

    Raises
    ------
    DistributionError when the record cannot be computed at all.
    """
    draws = method.draws if draws is None else draws
    if draws != 0 and draws < LEAST_DRAWS:
        raise DrawsTooFewError(
            "Too few draws for an interval", f"{draws}", f"Use 0 or at least {LEAST_DRAWS}."
        )
    refuse_impossible(record)
    mass = portion_mass(record)
    found = portion_findings(record, mass) + correction_findings(record, method)
    found += slot_findings(record) + steadiness_findings(record) + method_findings(method)
    points: tuple[SizePoint, ...] = ()
    curve: tuple[CurvePoint, ...] = ()
    fractions: Fractions | None = None
    texture = None
    if mass is not None:
        points = smoothed(size_points(record, method, mass.mass_g))
        curve = _curve(record, points, mass.mass_g)
        found += point_findings(record, points, mass) + smoothing_findings(largest_adjustment_pct(points))
        if record.sieving:
            found += sieving_findings(record.sieving, mass.mass_g)
        if method.certifiable:
            fractions, more = take_fractions(record, method, points, mass.mass_g)
            found += more
    if fractions is not None and (method.clay_limit_um, method.sand_limit_um) == USDA_LIMITS_UM:
        texture = usda_class(fractions.sand.value_pct, fractions.silt.value_pct, fractions.clay.value_pct)
    if mass is not None and fractions is not None and draws:
        seed = int(record_digest(record, method)[:8], 16) >> 1 if seed is None else seed
        fractions, texture = with_uncertainty(record, method, points, mass, fractions, texture, draws, seed)
    else:
        draws, seed = 0, None
    return SizeDistribution(
        label=record.label,
        method_code=method.code,
        engine_version=ENGINE_VERSION,
        correction=record.correction,
        oven_dry_mass_g=mass.mass_g if mass else None,
        points=points,
        curve=curve,
        fractions=fractions,
        texture=texture,
        findings=_most_serious_first(found),
        draws=draws,
        seed=seed,
        largest_adjustment_pct=largest_adjustment_pct(points),
        notes=notes(record, method, mass, draws),
        named_readings=() if method.certifiable else named_readings(points),
    )


def _curve(record: RunRecord, points: Sequence[SizePoint], portion_g: float) -> tuple[CurvePoint, ...]:
    sieve = percent_passing(record.sieving.sieves, portion_g) if record.sieving else ()
    settled = [CurvePoint(p.diameter_um, p.percent_finer_curve, "hydrometer") for p in by_size(points)]
    return joined_curve(sieve, settled)


def _most_serious_first(found: Sequence[Finding]) -> tuple[Finding, ...]:
    order = {"stop": 0, "warn": 1, "note": 2}
    return tuple(sorted(found, key=lambda finding: order[finding.severity.value]))
