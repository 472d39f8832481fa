"""Findings on a stack of sieves whose masses do not add up, or that holds what does not belong there."""

from __future__ import annotations

from math import hypot

from particles.distribution.answer import Finding, Severity
from particles.distribution.findings.catalogue import finding
from particles.distribution.method.limits import STANDARD_LIMITS, QualityLimits
from particles.distribution.record import Sieving
from particles.distribution.sieves.stack import FINE_EARTH_UM, sieve_balance_g, weighing_noise_g


def sieving_findings(
    sieving: Sieving,
    portion_g: float | None,
    limits: QualityLimits = STANDARD_LIMITS,
    mass_sd_g: float = 0.0,
    portion_sd_g: float = 0.0,
) -> list[Finding]:
    """
    Masses that do not add up: sieve_gain, sieve_loss, sieve_loss_small, washed_above_portion, gravel_on_sand_sieves.

    Parameters
    ----------
    portion_g : oven-dry mass of the sieved portion, None when the stack is the whole test. [g]
    mass_sd_g : standard uncertainty of each mass on a sieve; a difference within it and the limits is none. [g]
    portion_sd_g : standard uncertainty of the portion's mass, its moisture included. [g]
    """
    washed_g, sieves = sieving.washed_dry_mass_g, len(sieving.sieves)
    found: list[Finding] = []
    if portion_g is not None:
        found += _against_portion(sieving, portion_g, limits, mass_sd_g, portion_sd_g)
    lost_g = washed_g - (sum(sieve.retained_g for sieve in sieving.sieves) + sieving.pan_g)
    if -lost_g > sieve_balance_g(washed_g, sieves, mass_sd_g, limits):
        found.append(finding("sieve_gain", number=-lost_g, washed_g=washed_g))
    elif lost_g > 0.0:
        noise_g = weighing_noise_g(sieves, mass_sd_g, limits)
        found.append(_loss(lost_g, washed_g, limits.sieve_loss_pct, noise_g))
    return found


def _against_portion(
    sieving: Sieving, portion_g: float, limits: QualityLimits, mass_sd_g: float, portion_sd_g: float
) -> list[Finding]:
    found: list[Finding] = []
    washed_g = sieving.washed_dry_mass_g
    noise_g = limits.noise_warn_sd * hypot(mass_sd_g, portion_sd_g)
    if washed_g > portion_g + max(limits.sieve_balance_g, noise_g):
        number = washed_g - portion_g
        found.append(finding("washed_above_portion", number=number, washed_g=washed_g, portion_g=portion_g))
    gravel_g = sum(sieve.retained_g for sieve in sieving.sieves if sieve.opening_um >= FINE_EARTH_UM)
    if gravel_g > limits.noise_warn_sd * mass_sd_g:
        percent = 100.0 * gravel_g / portion_g
        severity = Severity.STOP if percent > limits.gravel_in_portion_pct else Severity.WARN
        found.append(finding("gravel_on_sand_sieves", severity=severity, number=percent, gravel_g=gravel_g))
    return found


def _loss(lost_g: float, washed_g: float, limit_pct: float, noise_g: float) -> Finding:
    percent = 100.0 * lost_g / washed_g
    too_much = percent > limit_pct and lost_g > noise_g
    return finding("sieve_loss" if too_much else "sieve_loss_small", number=percent, lost_g=lost_g)
