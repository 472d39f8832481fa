"""A portion just weighed that is far from every mass advised for its texture."""

from __future__ import annotations

from typing import Any

from particles.distribution.advice.portion import (
    FIRST_G_L,
    LAST_LEAST_G_L,
    PortionAdvice,
    PortionCandidate,
    portion_advice,
)
from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import Hydrometer

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
    texture_class : name of a USDA class, by feel.
    """
    density = particle_density_g_cm3
    advice = portion_advice(texture_class, method, hydrometer, particle_density_g_cm3=density)
    nearest_g = _nearest_advised_g(mass_g, advice)
    difference_pct = 100.0 * (mass_g / nearest_g - 1.0)
    if abs(difference_pct) <= APART_PCT:
        return []
    own = portion_advice(
        texture_class, method, hydrometer, particle_density_g_cm3=density, candidates_g=(mass_g,)
    ).recommended
    falls_short: dict[str, Any] = {"shortfall": own.shortfall} if own.shortfall else {}
    code = _code(own, nearest_g)
    return [
        finding(
            code,
            variant="falls_short" if falls_short else "within_targets",
            number=mass_g,
            difference_pct=abs(difference_pct),
            side="heavier" if difference_pct > 0.0 else "lighter",
            nearest_g=nearest_g,
            texture=texture_class,
            **falls_short,
        )
    ]


def _nearest_advised_g(mass_g: float, advice: PortionAdvice) -> float:
    advised = [c.mass_g for c in advice.candidates if c.within_targets] or [advice.recommended.mass_g]
    return min(advised, key=lambda each_g: abs(each_g - mass_g))


def _code(own: PortionCandidate, nearest_g: float) -> str:
    too_dense = not own.on_stem or own.first_corrected_g_l > FIRST_G_L[1]
    too_faint = own.first_corrected_g_l < FIRST_G_L[0] or own.last_corrected_g_l < LAST_LEAST_G_L
    if own.mass_g > nearest_g and too_dense:
        return "portion_too_heavy"
    if own.mass_g < nearest_g and too_faint:
        return "portion_too_light"
    return "portion_off_advice"
