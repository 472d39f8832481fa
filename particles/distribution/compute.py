"""The order of steps from one record to one result."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot

from particles.distribution.answer import (
    CurvePoint,
    Finding,
    Fractions,
    NamedReading,
    SandFraction,
    SizeDistribution,
    SizePoint,
    TextureClass,
)
from particles.distribution.curve.fractions import take_fractions
from particles.distribution.curve.joined import run_curve
from particles.distribution.curve.named_readings import known_alone, named_readings
from particles.distribution.curve.other_systems import other_textures
from particles.distribution.curve.points import largest_adjustment_pct, size_points, smoothed
from particles.distribution.curve.separates import sand_fractions
from particles.distribution.errors import DrawsContradictError, DrawsTooFewError, DrawsTooManyError
from particles.distribution.explained.notes import notes
from particles.distribution.findings.blank import correction_findings
from particles.distribution.findings.fractions import fraction_findings, other_system_findings
from particles.distribution.findings.gravel import gravel_findings
from particles.distribution.findings.join import held_findings
from particles.distribution.findings.needed import needed_findings
from particles.distribution.findings.portion import portion_findings
from particles.distribution.findings.readings import (
    method_findings,
    point_findings,
    run_findings,
    smoothing_findings,
)
from particles.distribution.findings.seen import seen_findings
from particles.distribution.findings.sieves import sieving_findings
from particles.distribution.inputs.between_run import BetweenRunSds, between_run_sds
from particles.distribution.inputs.blank_filling import interpolated_blanks_g_l, with_blanks_served
from particles.distribution.inputs.impossible import refuse_impossible
from particles.distribution.inputs.portion import PortionMass, portion_mass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.plain import record_digest as digest_with_engine
from particles.distribution.possible import LEAST_DRAWS
from particles.distribution.record import RunRecord
from particles.distribution.sieves.gravel import whole_sample_curve
from particles.distribution.sieves.stack import sieved_portion_g
from particles.distribution.texture.subclasses import texture_subclass
from particles.distribution.texture.usda import USDA_LIMITS_UM, usda_class
from particles.distribution.uncertainty.how_many import MOST_DRAWS, refuse_digits
from particles.distribution.uncertainty.intervals import Draws, Figures, UncertainFigures, with_uncertainty
from particles.distribution.uncertainty.model import RANDOM_SOURCE, SEED, RunModel

ENGINE_VERSION = "1.4.0"
"""Raised whenever any reported figure changes."""


def record_digest(record: RunRecord, method: MethodEdition) -> str:
    """SHA-256, in hex, of everything a result stands on: record, edition and engine version."""
    return digest_with_engine(record, method, ENGINE_VERSION)


@dataclass(frozen=True, slots=True)
class _PreparedRun:
    """One record, the edition, and what has to be known before any point: portion mass and blanks."""

    record: RunRecord
    method: MethodEdition
    mass: PortionMass | None
    """None: nothing can be computed."""
    interpolated: Mapping[int, float]
    """Reading index -> blank taken from those before and after. [g/L]"""
    filled: RunRecord
    """The record with those blanks in it."""
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Curve:
    """Points of the hydrometer and the curve they make with the sieves; empty without a portion mass."""

    points: tuple[SizePoint, ...] = ()
    joined: tuple[CurvePoint, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class _AtLimits:
    """Figures at the size limits, before their uncertainty."""

    figures: Figures | None = None
    """None: a limit is not reached, or the edition reports by time."""
    separates: tuple[SandFraction, ...] = ()
    findings: tuple[Finding, ...] = ()
    named: tuple[NamedReading, ...] = ()
    """Figures under their own names, where there are no fractions."""


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
    wanted = _wanted_draws(method, draws, seed, digits)
    refuse_impossible(record)
    run = _prepared(record, method)
    curve = _curve(run)
    at_limits = _at_limits(run, curve)
    uncertain = _uncertain(run, curve, at_limits, wanted)
    findings = _most_serious_first([*run.findings, *curve.findings, *at_limits.findings])
    return _distribution(run, curve, at_limits, uncertain, wanted, findings)


def _wanted_draws(method: MethodEdition, draws: int | None, seed: int | None, digits: int | None) -> Draws:
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
    if draws is not None and draws > MOST_DRAWS:
        raise DrawsTooManyError(
            "More draws than change anything that is printed", f"{draws}", f"Use at most {MOST_DRAWS}."
        )
    return Draws(method.draws if draws is None else draws, SEED if seed is None else seed, digits)


def _prepared(record: RunRecord, method: MethodEdition) -> _PreparedRun:
    """Portion mass and blanks, and what the record shows before any point."""
    mass = portion_mass(record)
    findings = portion_findings(record, mass, method.limits, method.uncertainties)
    findings += correction_findings(record, method)
    findings += gravel_findings(record, method.limits)
    findings += run_findings(record, method) + seen_findings(record) + method_findings(method)
    interpolated = interpolated_blanks_g_l(record, method)
    filled = with_blanks_served(record, method)
    return _PreparedRun(record, method, mass, interpolated, filled, tuple(findings))


def _curve(run: _PreparedRun) -> _Curve:
    """Points, joined curve, and what is found on them and on the sieves."""
    record, method, mass = run.record, run.method, run.mass
    if mass is None:
        return _Curve()
    points = smoothed(size_points(run.filled, method, mass.mass_g))
    joined = run_curve(record, points, mass.mass_g)
    findings = point_findings(record, method, points, mass) + held_findings(joined)
    findings += smoothing_findings(record, method, mass, points)
    if record.sieving:
        basis_g, sizes = sieved_portion_g(record.sieving, mass.mass_g), method.uncertainties
        moisture_pct = sizes.moisture_of_mass_pct if mass.derived else 0.0
        portion_sd_g = hypot(sizes.mass_g, moisture_pct / 100.0 * basis_g)
        findings += sieving_findings(record.sieving, basis_g, method.limits, sizes.sieve_mass_g, portion_sd_g)
    return _Curve(points, joined, tuple(findings))


def _at_limits(run: _PreparedRun, curve: _Curve) -> _AtLimits:
    """Fractions, sand separates and classes, and what is found on them."""
    record, method, mass = run.record, run.method, run.mass
    if mass is None:
        return _AtLimits()
    fractions: Fractions | None = None
    findings: list[Finding] = []
    named = () if method.certifiable else named_readings(curve.points)
    if method.certifiable:
        taken = take_fractions(record, method, curve.points, mass.mass_g)
        fractions, named = taken.fractions, known_alone(curve.points, method, taken)
        findings = fraction_findings(record, method, curve.points, mass.mass_g, taken)
        findings += needed_findings(record, method, curve.points, taken)
    separates: tuple[SandFraction, ...] = ()
    if record.sieving:
        basis_g = sieved_portion_g(record.sieving, mass.mass_g)
        separates = sand_fractions(record.sieving, basis_g, _finer_than_sand_pct(method, fractions))
    if fractions is None:
        return _AtLimits(None, separates, tuple(findings), named)
    others, without = other_textures(fractions, curve.joined, method)
    figures = Figures(fractions, _usda(method, fractions, separates), others)
    findings += other_system_findings(without, method)
    return _AtLimits(figures, separates, tuple(findings))


def _uncertain(
    run: _PreparedRun, curve: _Curve, at_limits: _AtLimits, wanted: Draws
) -> UncertainFigures | None:
    """Figures with their uncertainty; None without figures, or when no draws are wanted."""
    if run.mass is None or at_limits.figures is None or not wanted.wanted:
        return None
    model = RunModel(run.filled, run.method, curve.points, run.mass, run.interpolated)
    return with_uncertainty(model, at_limits.figures, wanted)


def _distribution(
    run: _PreparedRun,
    curve: _Curve,
    at_limits: _AtLimits,
    uncertain: UncertainFigures | None,
    wanted: Draws,
    findings: tuple[Finding, ...],
) -> SizeDistribution:
    """The result, put together from what every step gave."""
    record, method, mass = run.record, run.method, run.mass
    figures = at_limits.figures if uncertain is None else uncertain.figures
    texture = figures.texture if figures else None
    draws = uncertain.draws if uncertain else 0
    between = _between(record, method, uncertain)
    return SizeDistribution(
        label=record.label,
        method_code=method.code,
        engine_version=ENGINE_VERSION,
        correction=record.correction,
        oven_dry_mass_g=mass.mass_g if mass else None,
        points=curve.points,
        curve=curve.joined,
        fractions=figures.fractions if figures else None,
        texture=texture,
        findings=findings,
        draws=draws,
        seed=wanted.seed if uncertain else None,
        largest_adjustment_pct=largest_adjustment_pct(curve.points),
        notes=notes(record, method, mass, curve.points, draws, texture, between),
        named_readings=at_limits.named,
        covariance_pct2=uncertain.covariance_pct2 if uncertain else None,
        between_run_sd_pct=between.larger_pct if between else None,
        stabilised=uncertain.stabilised if uncertain else None,
        random_source=RANDOM_SOURCE if uncertain else "",
        whole_sample_curve=whole_sample_curve(record, curve.joined),
        sand_fractions=at_limits.separates,
        other_textures=figures.others if figures else (),
    )


def _between(
    record: RunRecord, method: MethodEdition, uncertain: UncertainFigures | None
) -> BetweenRunSds | None:
    if uncertain is None:
        return None
    found = uncertain.figures.fractions
    return between_run_sds(record, method, sand_pct=found.sand.value_pct, clay_pct=found.clay.value_pct)


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
    return tuple(sorted(found, key=lambda finding: -finding.severity.weight))
