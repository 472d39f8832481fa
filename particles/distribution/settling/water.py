"""
Density and viscosity of water and of sodium hexametaphosphate solution, 10 to 40 C.

Sources
-------
[1] M. Tanaka et al., Metrologia 38 (2001) 301, density of air-free water; formula from memory, checked
    against IAPWS-95 to 0.0012 kg/m3 from 10 to 40 C (fixtures/reference/water.json).
[2] J. Kestin et al., J. Phys. Chem. Ref. Data 7 (1978) 941, viscosity ratio; from memory, scaled to
    1.0016 mPa s at 20 C, checked against IAPWS 2008 to 0.053 %.
[3] G. W. Gee and J. W. Bauder 1986, hexametaphosphate factors 0.630 and 4.25 per g/mL; from memory,
    for 0 to about 10 g/L.
"""

from __future__ import annotations

from particles.distribution.errors import DispersantOutOfRangeError, TemperatureOutOfRangeError
from particles.distribution.possible import DISPERSANT_POSSIBLE_G_L, TEMPERATURE_POSSIBLE_C

GLASS_EXPANSION_PER_C = 25e-6
"""Cubic expansion of the hydrometer's glass, from memory. [1/C]"""
REFERENCE_C = 20.0
"""Both hydrometer scales hold at this temperature."""

# Asked some hundred times for each run, so the ends are taken out of their ranges once.
_LOWEST_C, _HIGHEST_C = TEMPERATURE_POSSIBLE_C.low, TEMPERATURE_POSSIBLE_C.high
_LEAST_G_L, _MOST_G_L = DISPERSANT_POSSIBLE_G_L.low, DISPERSANT_POSSIBLE_G_L.high


def _check_temperature(temperature_c: float) -> None:
    if not _LOWEST_C <= temperature_c <= _HIGHEST_C:
        raise TemperatureOutOfRangeError(
            f"Temperature outside {TEMPERATURE_POSSIBLE_C}",
            f"{temperature_c:g} °C",
            "Check the thermometer and its unit (68 to 80 is usually °F); correct the entry.",
        )


def _dispersant_g_ml(dispersant_g_l: float) -> float:
    if not _LEAST_G_L <= dispersant_g_l <= _MOST_G_L:
        raise DispersantOutOfRangeError(
            f"Dispersant in the cylinder outside {DISPERSANT_POSSIBLE_G_L}",
            f"{dispersant_g_l:g} g/L",
            "Enter the concentration in the filled cylinder, not that of the stock solution.",
        )
    return dispersant_g_l / 1000.0


def half_degree_inside_c(temperature_c: float) -> float:
    """Nearest temperature around which half a degree to either side can be computed, for slopes. [C]"""
    return min(max(temperature_c, TEMPERATURE_POSSIBLE_C.low + 0.5), TEMPERATURE_POSSIBLE_C.high - 0.5)


def water_density_g_cm3(temperature_c: float) -> float:
    """Density of air-free water [g/cm³] at temperature_c [C], source [1]; error outside 10 to 40 C."""
    _check_temperature(temperature_c)
    t = temperature_c
    return 0.999974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def water_viscosity_mpa_s(temperature_c: float) -> float:
    """Dynamic viscosity of water [mPa·s] at temperature_c [C], source [2]; error outside 10 to 40 C."""
    _check_temperature(temperature_c)
    below = 20.0 - temperature_c
    exponent = below / (temperature_c + 96.0) * (1.2364 - 1.37e-3 * below + 5.7e-6 * below**2)
    return float(1.0016 * 10.0**exponent)


def solution_density_g_cm3(temperature_c: float, dispersant_g_l: float) -> float:
    """Density of hexametaphosphate solution [g/cm³]; sources [1], [3]."""
    return water_density_g_cm3(temperature_c) * (1.0 + 0.630 * _dispersant_g_ml(dispersant_g_l))


def solution_viscosity_mpa_s(temperature_c: float, dispersant_g_l: float) -> float:
    """Dynamic viscosity of hexametaphosphate solution [mPa·s]; sources [2], [3]."""
    return water_viscosity_mpa_s(temperature_c) * (1.0 + 4.25 * _dispersant_g_ml(dispersant_g_l))


def apparent_density_g_cm3(temperature_c: float) -> float:
    """Density that a glass hydrometer true at 20 C shows in water at another temperature. [g/cm³]"""
    expansion = 1.0 + GLASS_EXPANSION_PER_C * (temperature_c - REFERENCE_C)
    return water_density_g_cm3(temperature_c) * expansion


WATER_20_G_CM3 = water_density_g_cm3(REFERENCE_C)
