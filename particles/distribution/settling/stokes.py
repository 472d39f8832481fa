"""
Stokes settling, both ways, and settling through water whose temperature changes.

Sources
-------
[1] G. G. Stokes 1851: terminal velocity of a sphere in laminar flow, v = g (rho_s - rho_l) D² / (18 eta).
    Holds for a Reynolds number below about 0.3 to 1, that is, up to about 60 to 75 µm for soil in water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall. [m/s²]"""
EIGHTEEN = 18e-8
"""The 18 of source [1] for a depth in cm, a viscosity in mPa·s, densities in g/cm³ and a diameter in m:
1e-2 m times 1e-3 Pa·s over 1e3 kg/m³."""


def settling_diameter_um(
    depth_cm: float, elapsed_s: float, viscosity_mpa_s: float, density_excess_g_cm3: float
) -> float:
    """
    Largest particle still in suspension above a depth, after a time.

    Parameters
    ----------
    depth_cm : effective depth below the surface. [cm]
    elapsed_s : time since the end of stirring, above zero. [s]
    viscosity_mpa_s : dynamic viscosity of the liquid at its temperature. [mPa·s]
    density_excess_g_cm3 : particle less liquid density, above zero. [g/cm³]

    Returns
    -------
    Equivalent spherical diameter, source [1]. [µm]

    >>> round(settling_diameter_um(10.0, 27_836, 1.002, 1.6518), 2)
    2.0
    """
    return 1e6 * sqrt(
        EIGHTEEN * viscosity_mpa_s * depth_cm / (GRAVITY_M_S2 * density_excess_g_cm3 * elapsed_s)
    )


def settling_time_s(
    depth_cm: float, diameter_um: float, viscosity_mpa_s: float, density_excess_g_cm3: float
) -> float:
    """Time [s] until particles of diameter_um [µm] have left depth_cm [cm]; the inverse of the diameter."""
    return depth_cm / settling_velocity_cm_s(diameter_um, viscosity_mpa_s, density_excess_g_cm3)


def settling_velocity_cm_s(
    diameter_um: float,
    viscosity_mpa_s: float,
    density_excess_g_cm3: float,
    gravity_m_s2: float = GRAVITY_M_S2,
) -> float:
    """Terminal velocity [cm/s] of a sphere of diameter_um [µm], source [1]."""
    return gravity_m_s2 * density_excess_g_cm3 * (diameter_um * 1e-6) ** 2 / EIGHTEEN / viscosity_mpa_s


def reynolds_number(
    diameter_um: float, velocity_cm_s: float, density_g_cm3: float, viscosity_mpa_s: float
) -> float:
    """Reynolds number of a settling grain; Stokes holds well below about 0.3. [-]"""
    return density_g_cm3 * velocity_cm_s * diameter_um * 1e-2 / viscosity_mpa_s


@dataclass(frozen=True, slots=True)
class SettlingPath:
    """
    Integrals over the time from the end of stirring to one reading, of what the liquid does to settling.

    A grain has fallen g D² / 18 times the integral of (rho_s - rho_l) / eta, exact for a changing temperature. That
    integral is rho_s * fluidity - weighted; over a steady liquid it is (rho_s - rho_l) t / eta.
    """

    fluidity: float
    """Integral of 1/eta. [s/(mPa·s)]"""
    weighted: float
    """Integral of rho_l/eta. [s g/(cm³ mPa·s)]"""

    def diameter_um(self, depth_cm: float, particle_density_g_cm3: float) -> float:
        """
        Largest particle still in suspension above a depth, by Stokes over the whole path. [µm]

        Parameters
        ----------
        depth_cm : effective depth below the surface. [cm]
        particle_density_g_cm3 : above that of the liquid at every time of the path. [g/cm³]
        """
        excess_per_viscosity = particle_density_g_cm3 * self.fluidity - self.weighted
        return 1e6 * sqrt(EIGHTEEN * depth_cm / (GRAVITY_M_S2 * excess_per_viscosity))


def settling_paths(
    elapsed_s: Sequence[float], temperatures_c: Sequence[float], dispersant_g_l: float
) -> list[SettlingPath]:
    """
    Settling integrals up to each reading, by the trapezoid rule over the logged temperatures.

    What it is worth: settling speeds up by 2.4 % per C near 20 C, so a size moves by 1.2 % per C. A steady drift of
    3 C up to the 24 h reading misplaces that size by about 1.8 % when only the last temperature is used; a steady
    offset of 3 C would move it by 3.6 %.

    Parameters
    ----------
    elapsed_s : (n,) rising, n >= 1. [s]
    temperatures_c : (n,) lines up with elapsed_s; the first holds from time zero. [C]
    dispersant_g_l : hexametaphosphate in the liquid. [g/L]

    Returns
    -------
    (n,) one per reading. At constant temperature exactly t/eta and t rho_l/eta.
    """
    paths: list[SettlingPath] = []
    fluidity = weighted = before_s = 0.0
    previous: tuple[float, float] | None = None
    known: dict[float, tuple[float, float]] = {}
    for now_s, temperature_c in zip(elapsed_s, temperatures_c, strict=True):
        if temperature_c not in known:
            inverse = 1.0 / solution_viscosity_mpa_s(temperature_c, dispersant_g_l)
            known[temperature_c] = (inverse, inverse * solution_density_g_cm3(temperature_c, dispersant_g_l))
        here = known[temperature_c]
        start = previous or here
        fluidity += (now_s - before_s) * (start[0] + here[0]) / 2.0
        weighted += (now_s - before_s) * (start[1] + here[1]) / 2.0
        paths.append(SettlingPath(fluidity, weighted))
        before_s, previous = now_s, here
    return paths
