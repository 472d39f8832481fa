"""A stack of sieves as the whole test, or with ready percentages of its fines by a hydrometer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from particles.distribution.answer import CurvePoint, Finding, Severity
from particles.distribution.curve.reading_off import joined_curve, percent_finer_at
from particles.distribution.findings.catalogue import finding
from particles.distribution.findings.sieves import sieving_findings
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.record import Interpolation, SieveMass, Sieving
from particles.distribution.sieves.stack import percent_passing, scaled_to_fines, sieve_balance_g

LEAST_RATIO = 0.5
"""A step in size smaller than this share of a halving is judged as one of it, as in a run. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SieveTest:
    """One stack: masses, or percents that somebody made of them."""

    started_with_g: float | None = None
    """Oven-dry mass of the portion before any washing; None: not known. [g]"""
    washed_dry_mass_g: float | None = None
    """Left on the finest sieve after washing, and put on the stack; None: the portion was not washed. [g]"""
    sieves: tuple[SieveMass, ...] = ()
    """In falling order of opening."""
    pan_g: float = 0.0
    passing: tuple[CurvePoint, ...] = ()
    """Percent passing as given, in place of masses; in falling order of opening."""
    fines_split_um: float | None = None
    """Sieve whose fines the hydrometer's percents are of."""
    hydrometer: tuple[CurvePoint, ...] = ()
    """Percent of those fines, in falling order of diameter."""

    @property
    def found_g(self) -> float:
        """Mass on all sieves and in the pan. [g]"""
        return sum(sieve.retained_g for sieve in self.sieves) + self.pan_g


@dataclass(frozen=True, slots=True)
class Fines:
    """What is finer than the finest sieve: washed away, and found in the pan."""

    washed_away_g: float
    pan_g: float
    percent: float
    """Both, of the mass the test started with. [%]"""
    passing_pct: float
    """What passed the finest sieve by difference, any loss among it. [%]"""


@dataclass(frozen=True, slots=True)
class SieveTestResult:
    """The curve of a stack and what was found on it."""

    basis_g: float | None
    """What percents are of; None for a stack given in percent. [g]"""
    curve: tuple[CurvePoint, ...]
    fines: Fines | None
    """None without a washing."""
    findings: tuple[Finding, ...]


def sieve_test(test: SieveTest, limits: QualityLimits = STANDARD_LIMITS) -> SieveTestResult:
    """Percent passing each sieve of the mass the test started with; nothing lost is shared out."""
    basis_g = _basis_g(test)
    sieve = test.passing if basis_g is None else percent_passing(test.sieves, basis_g)
    findings = _mass_findings(test, limits) if basis_g is not None else []
    findings += _rising(sieve, "sieves", limits)
    fines: tuple[CurvePoint, ...] = ()
    if test.fines_split_um is not None:
        fines = scaled_to_fines(test.hydrometer, sieve, test.fines_split_um)
        findings += _rising(fines, "hydrometer", limits) + _falling_fast(fines, limits)
        findings += _join(test.hydrometer, sieve, test.fines_split_um, limits)
    return SieveTestResult(basis_g, joined_curve(sieve, fines), _fines(test, basis_g, sieve), tuple(findings))


def _basis_g(test: SieveTest) -> float | None:
    if test.passing:
        return None
    return test.found_g if test.started_with_g is None else test.started_with_g


def _mass_findings(test: SieveTest, limits: QualityLimits) -> list[Finding]:
    """What went on the stack against what was found on it, and what was washed against what was there before."""
    started_g, washed_g = test.started_with_g, test.washed_dry_mass_g
    found: list[Finding] = []
    if started_g is None:
        found.append(finding("sieve_start_missing", number=test.found_g))
    elif washed_g is not None and washed_g > started_g + limits.sieve_balance_g:
        number = washed_g - started_g
        found.append(finding("washed_above_portion", number=number, washed_g=washed_g, portion_g=started_g))
    stacked_g = washed_g if washed_g is not None else started_g
    if stacked_g is None:
        return found
    if _pan_holds_washings(test, stacked_g, limits):
        away_g = started_g - stacked_g if started_g is not None else 0.0
        return [*found, finding("washing_in_pan", number=test.pan_g, washed_away_g=away_g)]
    balance = sieving_findings(Sieving(stacked_g, test.sieves, test.pan_g), None, limits)
    return found + [_perhaps_washed(test, each) for each in balance]


def _pan_holds_washings(test: SieveTest, stacked_g: float, limits: QualityLimits) -> bool:
    """Whether what is too much on the stack is just what washing took away."""
    if test.started_with_g is None or test.washed_dry_mass_g is None:
        return False
    tolerance_g = sieve_balance_g(stacked_g, len(test.sieves), 0.0, limits)
    too_much_g, away_g = test.found_g - stacked_g, test.started_with_g - stacked_g
    return too_much_g > tolerance_g and abs(too_much_g - away_g) <= tolerance_g


def _perhaps_washed(test: SieveTest, found: Finding) -> Finding:
    """A loss in the words for a sheet that names no washing."""
    if found.code != "sieve_loss" or test.washed_dry_mass_g is not None or test.started_with_g is None:
        return found
    lost_g = test.started_with_g - test.found_g
    return finding("sieve_loss", variant="perhaps_washed", number=found.number, lost_g=lost_g)


def _rising(points: Sequence[CurvePoint], by: str, limits: QualityLimits) -> list[Finding]:
    found: list[Finding] = []
    for coarse, fine in pairwise(points):
        rise_pct = fine.percent_finer - coarse.percent_finer
        if rise_pct <= 0.0:
            continue
        small = by == "hydrometer" and rise_pct <= limits.adjustment_warn_pct
        found.append(
            finding(
                "percent_rises",
                variant=by,
                severity=Severity.WARN if small else Severity.STOP,
                number=rise_pct,
                coarse_um=coarse.diameter_um,
                coarse_pct=coarse.percent_finer,
                fine_um=fine.diameter_um,
                fine_pct=fine.percent_finer,
            )
        )
    return found


def _falling_fast(points: Sequence[CurvePoint], limits: QualityLimits) -> list[Finding]:
    """Steps that no dispersed soil shows, by the limit of a run."""
    found: list[Finding] = []
    for coarse, fine in pairwise(points):
        fall_pct = coarse.percent_finer - fine.percent_finer
        halvings = max(coarse.diameter_um / fine.diameter_um - 1.0, LEAST_RATIO)
        fine_enough = coarse.diameter_um <= limits.fast_fall_finer_than_um
        if fine_enough and fall_pct > limits.fast_fall_pct_per_halving * halvings:
            found.append(
                finding(
                    "fell_too_fast",
                    number=fall_pct,
                    coarse_um=coarse.diameter_um,
                    fine_um=fine.diameter_um,
                )
            )
    return found


def _join(
    fines: Sequence[CurvePoint], sieve: Sequence[CurvePoint], split_um: float, limits: QualityLimits
) -> list[Finding]:
    """How the hydrometer's own line meets the split, where all of the fines are still finer."""
    passing_pct = next(point.percent_finer for point in sieve if point.diameter_um == split_um)
    sizes, percents = [p.diameter_um for p in fines], [p.percent_finer for p in fines]
    at = percent_finer_at(
        sizes, percents, split_um, Interpolation.STRAIGHT, factor=limits.extrapolation_factor
    )
    if at is None:
        return [finding("join_not_compared", number=split_um)]
    hydrometer_pct = at.percent * passing_pct / 100.0
    step_pct = passing_pct - hydrometer_pct
    values: dict[str, Any] = {
        "number": step_pct,
        "step_pct": abs(step_pct),
        "opening_um": split_um,
        "passing_pct": passing_pct,
        "hydrometer_pct": hydrometer_pct,
    }
    if abs(step_pct) < limits.join_warn_pct:
        return [finding("join_accepted", variant="at_sieve", **values)]
    severity = Severity.STOP if abs(step_pct) > limits.join_stop_pct else Severity.WARN
    return [finding("join_apart", variant="at_sieve", severity=severity, **values)]


def _fines(test: SieveTest, basis_g: float | None, sieve: Sequence[CurvePoint]) -> Fines | None:
    """Fines = started with - washed + pan, beside what the finest sieve passed by difference."""
    if test.started_with_g is None or test.washed_dry_mass_g is None or basis_g is None:
        return None
    away_g = test.started_with_g - test.washed_dry_mass_g
    percent = 100.0 * (away_g + test.pan_g) / basis_g
    return Fines(away_g, test.pan_g, percent, sieve[-1].percent_finer)
