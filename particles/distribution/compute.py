"""The order of steps from one record to one result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from particles.distribution.answer import (
    CurvePoint,
    Finding,
    Fractions,
    SandFraction,
    SizeDistribution,
    SizePoint,
    TextureClass,
)
from particles.distribution.curve.fractions import take_fractions
from particles.distribution.curve.joined import run_curve
from particles.distribution.curve.named_readings import named_readings
from particles.distribution.curve.other_systems import other_textures
from particles.distribution.curve.points import largest_adjustment_pct, size_points, smoothed
from particles.distribution.curve.separates import sand_fractions
from particles.distribution.errors import DrawsContradictError, DrawsTooFewError
from particles.distribution.explained.notes import notes
from particles.distribution.findings.blank import correction_findings
from particles.distribution.findings.fractions import fraction_findings, other_system_findings
from particles.distribution.findings.gravel import gravel_findings
from particles.distribution.findings.portion import portion_findings
from particles.distribution.findings.readings import (
    method_findings,
    point_findings,
    run_findings,
    smoothing_findings,
)
from particles.distribution.findings.seen import seen_findings
from particles.distribution.findings.sieves import sieving_findings
from particles.distribution.inputs.between_run import between_run_sd_pct
from particles.distribution.inputs.blank_filling import interpolated_blanks_g_l, with_blanks_filled
from particles.distribution.inputs.impossible import refuse_impossible
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.plain import record_digest as digest_with_engine
from particles.distribution.record import RunRecord
from particles.distribution.sieves.gravel import whole_sample_curve
from particles.distribution.sieves.stack import sieved_portion_g
from particles.distribution.texture.subclasses import texture_subclass
from particles.distribution.texture.usda import USDA_LIMITS_UM, usda_class
from particles.distribution.uncertainty.how_many import refuse_digits
from particles.distribution.uncertainty.intervals import LEAST_DRAWS, UncertainFigures, with_uncertainty
from particles.distribution.uncertainty.model import RANDOM_SOURCE, SEED

ENGINE_VERSION = "1.3.0"
"""Raised whenever any reported figure changes."""


def record_digest(record: RunRecord, method: MethodEdition) -> str:
    """SHA-256, in hex, of everything a result stands on: record, edition and engine version."""
    return digest_with_engine(record, method, ENGINE_VERSION)


def compute_distribution(
    record: RunRecord,
    method: MethodEdition,
    *,
    draws: int | None = None,
    seed: int | None = None,
    digits: int | None = None,
) -> SizeDistribution:
    """
    Size distribution, fractions, class and findings of one run.

    Parameters
    ----------
    record : everything measured.
    method : the edition it is computed by.
    draws : Monte Carlo draws; None for the edition's own number, 0 for figures without uncertainty.
    seed : of the draws; None for the one that all runs share, so that what differs between two results differs
        between their records.
    digits : instead of draws: draw until so many significant digits of the uncertainties hold, 1 to 3.

    Returns
    -------
    The result, its findings included. A stop finding forbids a certified result, not the figures.

    Raises
    ------
    DistributionError when the record cannot be computed at all.
    """
    _refuse_draws(draws, digits)
    draws = method.draws if draws is None else draws
    refuse_impossible(record)
    mass = portion_mass(record)
    found = portion_findings(record, mass, method.limits) + correction_findings(record, method)
    found += gravel_findings(record, method.limits)
    found += run_findings(record, method) + seen_findings(record) + method_findings(method)
    blanks = interpolated_blanks_g_l(record, method)
    filled = with_blanks_filled(record, blanks)
    points: tuple[SizePoint, ...] = ()
    curve: tuple[CurvePoint, ...] = ()
    fractions: Fractions | None = None
    texture: TextureClass | None = None
    separates: tuple[SandFraction, ...] = ()
    others: tuple[TextureClass, ...] = ()
    doubted: UncertainFigures | None = None
    if mass is not None:
        points = smoothed(size_points(filled, method, mass.mass_g))
        curve = run_curve(record, points, mass.mass_g)
        found += point_findings(record, method, points, mass)
        found += smoothing_findings(record, method, mass, points)
        if record.sieving:
            basis_g = sieved_portion_g(record.sieving, mass.mass_g)
            doubt = method.uncertainties
            moisture_pct = doubt.moisture_of_mass_pct if mass.derived else 0.0
            portion_sd_g = hypot(doubt.mass_g, moisture_pct / 100.0 * basis_g)
            found += sieving_findings(
                record.sieving, basis_g, method.limits, doubt.sieve_mass_g, portion_sd_g
            )
        if method.certifiable:
            taken = take_fractions(record, method, points, mass.mass_g)
            fractions = taken.fractions
            found += fraction_findings(record, method, points, mass.mass_g, taken)
        if record.sieving:
            separates = sand_fractions(record.sieving, basis_g, _finer_than_sand_pct(method, fractions))
    if fractions is not None:
        texture = _usda(method, fractions, separates)
        others, without = other_textures(fractions, curve, method)
        found += other_system_findings(without, method)
    if mass is not None and fractions is not None and (draws or digits):
        seed = SEED if seed is None else seed
        doubted = with_uncertainty(
            filled,
            method,
            points,
            mass,
            fractions,
            texture,
            others,
            blanks=blanks,
            draws=draws,
            seed=seed,
            digits=digits,
        )
        fractions, texture, others, draws = doubted.fractions, doubted.texture, doubted.others, doubted.draws
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
        notes=notes(record, method, mass, points, draws, texture),
        named_readings=() if method.certifiable else named_readings(points),
        covariance_pct2=doubted.covariance_pct2 if doubted else None,
        between_run_sd_pct=between_run_sd_pct(record, method) if doubted else None,
        stabilised=doubted.stabilised if doubted else None,
        random_source=RANDOM_SOURCE if doubted else "",
        whole_sample_curve=whole_sample_curve(record, curve),
        sand_fractions=separates,
        other_textures=others,
    )


def _refuse_draws(draws: int | None, digits: int | None) -> None:
    if digits is not None:
        refuse_digits(digits)
        if draws is not None:
            raise DrawsContradictError(
                "Both a number of draws and digits to draw until",
                f"{draws} and {digits}",
                "Give one of them.",
            )
    if draws is not None and draws != 0 and draws < LEAST_DRAWS:
        raise DrawsTooFewError(
            "Too few draws for an interval", f"{draws}", f"Use 0 or at least {LEAST_DRAWS}."
        )


def _finer_than_sand_pct(method: MethodEdition, fractions: Fractions | None) -> float | None:
    """Percent finer than the sand limit of the USDA, where the edition brings sand to it."""
    if fractions is None or not method.sand_at_limit or method.sand_limit_um != USDA_LIMITS_UM[1]:
        return None
    return 100.0 - fractions.sand.value_pct if fractions.sand_by == "sieve" else None


def _usda(
    method: MethodEdition, fractions: Fractions, separates: Sequence[SandFraction]
) -> TextureClass | None:
    if (method.clay_limit_um, method.sand_limit_um) != USDA_LIMITS_UM:
        return None
    texture = usda_class(fractions.sand.value_pct, fractions.silt.value_pct, fractions.clay.value_pct)
    if fractions.sand_by != "sieve" or not separates:
        return texture
    return replace(texture, subclass=texture_subclass(texture.name, separates))


def _most_serious_first(found: Sequence[Finding]) -> tuple[Finding, ...]:
    order = {"stop": 0, "warn": 1, "note": 2}
    return tuple(sorted(found, key=lambda finding: order[finding.severity.value]))
