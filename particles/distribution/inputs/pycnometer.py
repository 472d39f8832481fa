"""Particle density from the weighings of a pycnometer."""

from __future__ import annotations

from particles.distribution.errors import PycnometerError
from particles.distribution.possible import PARTICLE_DENSITY_POSSIBLE_G_CM3, TEMPERATURE_POSSIBLE_C
from particles.distribution.record import Pycnometer
from particles.distribution.settling.water import water_density_g_cm3

_NEXT = "Check the three weighings and the temperature of the water."


def density_by_pycnometer_g_cm3(weighed: Pycnometer) -> float:
    """
    Mass of the soil over the volume of the water it takes the place of. [g/cm³]

    Raises
    ------
    PycnometerError when the weighings give no density that a soil can have.

    >>> round(density_by_pycnometer_g_cm3(Pycnometer(25.0, 150.0, 165.6, 20.0)), 3)
    2.655
    """
    displaced_g = weighed.dry_soil_g + weighed.with_water_g - weighed.with_soil_and_water_g
    shown = (
        f"{weighed.dry_soil_g:g} g, {weighed.with_water_g:g} g, {weighed.with_soil_and_water_g:g} g, "
        f"{weighed.water_c:g} °C"
    )
    if weighed.dry_soil_g <= 0.0 or displaced_g <= 0.0 or weighed.water_c not in TEMPERATURE_POSSIBLE_C:
        raise PycnometerError("The pycnometer's weighings give no density", shown, _NEXT)
    density = weighed.dry_soil_g * water_density_g_cm3(weighed.water_c) / displaced_g
    if density not in PARTICLE_DENSITY_POSSIBLE_G_CM3:
        raise PycnometerError(
            f"The pycnometer's weighings give a density outside {PARTICLE_DENSITY_POSSIBLE_G_CM3}",
            f"{density:.3f} g/cm³ from {shown}",
            _NEXT,
        )
    return density
