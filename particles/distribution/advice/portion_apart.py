"""A portion just weighed that is far from every mass advised for its texture."""

from __future__ import annotations

from particles.distribution.advice.portion import (
    FIRST_G_L,
    LAST_LEAST_G_L,
    PortionAdvice,
    PortionCandidate,
    portion_advice,
)
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Finding, Hydrometer, Severity

APART_PCT = 10.0
"""*Common practice*: a mass within 10 % of the one meant is the one meant."""


def portion_apart_findings(
    mass_g: float,
    texture_class: str,
    method: MethodEdition,
    hydrometer: Hydrometer,
    *,
    particle_density_g_cm3: float = 2.65,
) -> list[Finding]:
    """
    portion_too_light, portion_too_heavy, portion_off_advice, or nothing.

    Any candidate that keeps all targets counts as advised, not only the best one; where none
    keeps them, the recommended one does.

    Parameters
    ----------
    mass_g : as weighed. [g]
    texture_class : name of a USDA class, as told by feel.
    """
    density = particle_density_g_cm3
    advice = portion_advice(texture_class, method, hydrometer, particle_density_g_cm3=density)
    nearest_g = _nearest_advised_g(mass_g, advice)
    apart_pct = 100.0 * (mass_g / nearest_g - 1.0)
    if abs(apart_pct) <= APART_PCT:
        return []
    own = portion_advice(
        texture_class, method, hydrometer, particle_density_g_cm3=density, candidates_g=(mass_g,)
    ).recommended
    code, step = _code_and_step(own, nearest_g)
    side = "heavier" if apart_pct > 0.0 else "lighter"
    expected = f"; expected with it: {own.shortfall}" if own.shortfall else ""
    sentence = (
        f"The portion weighs {mass_g:.2f} g, {abs(apart_pct):.0f} % {side} than the {nearest_g:g} g "
        f"advised for a {texture_class}{expected}."
    )
    return [Finding(code, Severity.WARN, sentence, step, mass_g, "g")]


def _nearest_advised_g(mass_g: float, advice: PortionAdvice) -> float:
    advised = [c.mass_g for c in advice.candidates if c.within_targets] or [advice.recommended.mass_g]
    return min(advised, key=lambda each_g: abs(each_g - mass_g))


def _code_and_step(own: PortionCandidate, nearest_g: float) -> tuple[str, str]:
    too_dense = not own.on_stem or own.first_corrected_g_l > FIRST_G_L[1]
    too_faint = own.first_corrected_g_l < FIRST_G_L[0] or own.last_corrected_g_l < LAST_LEAST_G_L
    if own.mass_g > nearest_g and too_dense:
        step = f"Weigh a portion near {nearest_g:g} g: a reading above the stem gives no point."
        return "portion_too_heavy", step
    if own.mass_g < nearest_g and too_faint:
        step = (
            f"Weigh a portion near {nearest_g:g} g, or go on: faint readings make the result more doubtful."
        )
        return "portion_too_light", step
    return "portion_off_advice", "Read the balance again; if the mass is right, go on."
