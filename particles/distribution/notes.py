"""Plain statements that belong beside the figures on paper."""

from __future__ import annotations

from .curve import EXTRAPOLATION_FACTOR
from .methods import MethodEdition
from .portion import PortionMass
from .quantities import RunRecord
from .texture import USDA_LIMITS_UM

_BY_RULE = (
    "Texture class from unrounded figures by the written USDA rules, which also decide on a class line."
)
_NO_CLASS = "No texture class: the USDA triangle holds for limits of 2 and 50 µm only."


def notes(record: RunRecord, method: MethodEdition, mass: PortionMass | None, draws: int) -> tuple[str, ...]:
    """What the figures refer to, how they were read off, what the uncertainty covers."""
    stated = ["Percent by mass of the fine earth (below 2 mm), oven-dry."]
    if mass is not None:
        stated.append(f"Portion mass {mass.mass_g:.2f} g ({mass.basis}).")
    measured = "measured" if record.particle_density_measured else "assumed"
    stated.append(f"Particle density {record.particle_density_g_cm3:.2f} g/cm³ ({measured}).")
    stated.append(f"Readings corrected by: {record.correction}.")
    stated.append(
        "Percent finer read off straight against the logarithm of the diameter; limits up to a factor "
        f"{EXTRAPOLATION_FACTOR:g} beyond the last point are extended and flagged."
    )
    if record.gravel_pct is not None:
        stated.append(f"Gravel, {record.gravel_pct:.1f} % of the whole sample, is not part of these figures.")
    if method.certifiable:
        stated.append(
            f"Clay below {method.clay_limit_um:g} µm, sand above {method.sand_limit_um:g} µm, "
            "silt by difference."
        )
        usda = (method.clay_limit_um, method.sand_limit_um) == USDA_LIMITS_UM
        stated.append(_BY_RULE if usda else _NO_CLASS)
    else:
        stated.append("Figures are named by the time of reading; their diameters stand beside them.")
    if draws:
        stated.append(
            f"95 % intervals from {draws} Monte Carlo draws over reading, blank, mass, density, depth, "
            f"time, volume and temperature, with {method.dispersion_sd_pct:g} percentage points between "
            "runs. Draws below zero count as they are in the intervals; for the class chances they are moved "
            "to the nearest point of the triangle."
        )
    return tuple(stated)
