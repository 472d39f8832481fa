"""Water against IAPWS: the library, and the kept table."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from iapws import IAPWS95

from particles.distribution.errors import DispersantOutOfRangeError, TemperatureOutOfRangeError
from particles.distribution.settling.water import (
    solution_density_g_cm3,
    solution_viscosity_mpa_s,
    water_density_g_cm3,
    water_viscosity_mpa_s,
)
from tests.support.published_figures import stokes_constant

TABLE = json.loads(
    (Path(__file__).parents[3] / "fixtures" / "reference" / "water.json").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("row", TABLE["water"], ids=lambda row: f"{row['T_C']} C")
def test_water_agrees_with_the_table(row: dict[str, float]) -> None:
    assert 1000 * water_density_g_cm3(row["T_C"]) == pytest.approx(row["density_kg_m3"], abs=0.0013)
    assert water_viscosity_mpa_s(row["T_C"]) == pytest.approx(row["viscosity_mPa_s"], rel=0.00055)


@pytest.mark.parametrize("temperature_c", [10.0, 17.5, 20.0, 22.2, 30.0, 40.0])
def test_water_agrees_with_iapws(temperature_c: float) -> None:
    water = IAPWS95(T=273.15 + temperature_c, P=0.101325)
    assert 1000 * water_density_g_cm3(temperature_c) == pytest.approx(water.rho, abs=0.0013)
    assert water_viscosity_mpa_s(temperature_c) == pytest.approx(1000 * water.mu, rel=0.00055)


@pytest.mark.parametrize("row", TABLE["K_values_read"]["rows"], ids=lambda row: f"{row['Gs']} {row['T_C']} C")
def test_stokes_constant_agrees_with_printed_tables(row: dict[str, float]) -> None:
    """0.3 %: older viscosity behind the tables; half a unit of the last printed digit."""
    decimals = len(str(row["K_read"]).split(".")[1])
    tolerance = 0.003 * row["K_read"] + 0.5 * 10.0 ** -max(decimals, 4)
    assert stokes_constant(row["T_C"], row["Gs"]) == pytest.approx(row["K_read"], abs=tolerance)


def test_dispersant_makes_it_denser_and_thicker() -> None:
    assert solution_density_g_cm3(20.0, 5.0) / water_density_g_cm3(20.0) == pytest.approx(1.00315)
    assert solution_viscosity_mpa_s(20.0, 5.0) / water_viscosity_mpa_s(20.0) == pytest.approx(1.02125)


@pytest.mark.parametrize("temperature_c", [9.99, 40.01, 68.0])
def test_refused_outside_the_formulas(temperature_c: float) -> None:
    with pytest.raises(TemperatureOutOfRangeError, match=f"{temperature_c:g} °C"):
        water_density_g_cm3(temperature_c)
    with pytest.raises(TemperatureOutOfRangeError):
        water_viscosity_mpa_s(temperature_c)


def test_dispersant_below_zero_is_refused() -> None:
    with pytest.raises(DispersantOutOfRangeError):
        solution_density_g_cm3(20.0, -1.0)
