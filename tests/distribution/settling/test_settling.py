"""Stokes both ways, and water whose temperature changes."""

from __future__ import annotations

import doctest

import pytest

from particles.distribution.settling import stokes as settling
from particles.distribution.settling.stokes import (
    reynolds_number,
    settling_diameter_um,
    settling_paths,
    settling_time_s,
    settling_velocity_cm_s,
)
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s
from tests.support.runs import figures, good_run, with_reading


def test_the_example_in_the_docstring() -> None:
    assert doctest.testmod(settling) == doctest.TestResults(failed=0, attempted=1)


def _excess(temperature_c: float, dispersant_g_l: float = 0.0) -> float:
    return 2.65 - solution_density_g_cm3(temperature_c, dispersant_g_l)


@pytest.mark.parametrize("diameter_um", [0.5, 2.0, 20.0, 63.0])
def test_there_and_back(diameter_um: float) -> None:
    time_s = settling_time_s(10.0, diameter_um, 1.0016, 1.6518)
    assert settling_diameter_um(10.0, time_s, 1.0016, 1.6518) == pytest.approx(diameter_um, rel=1e-12)


@pytest.mark.parametrize(
    ("temperature_c", "two_um_h", "twenty_um_s"),
    [(18, 8.13, 293), (20, 7.73, 278), (22, 7.36, 265), (24, 7.02, 253), (26, 6.71, 242), (28, 6.42, 231)],
)
def test_pipette_times(temperature_c: float, two_um_h: float, twenty_um_s: float) -> None:
    """Times to draw at 10 cm in pure water, computed from IAPWS water; printed to 0.01 h and 1 s."""
    viscosity = solution_viscosity_mpa_s(temperature_c, 0.0)
    excess = _excess(temperature_c)
    assert settling_time_s(10.0, 2.0, viscosity, excess) / 3600 == pytest.approx(two_um_h, abs=0.01)
    assert settling_time_s(10.0, 20.0, viscosity, excess) == pytest.approx(twenty_um_s, abs=0.6)


@pytest.mark.parametrize(("diameter_um", "reynolds"), [(20, 0.007), (50, 0.11), (63, 0.22), (100, 0.90)])
def test_reynolds_numbers_at_20_c(diameter_um: float, reynolds: float) -> None:
    velocity = settling_velocity_cm_s(diameter_um, 1.0016, _excess(20.0))
    assert reynolds_number(diameter_um, velocity, 0.9982, 1.0016) == pytest.approx(reynolds, rel=0.05)


def test_steady_temperature_is_plain_stokes() -> None:
    assert len(figures(good_run()).points) == 9
    for point in figures(good_run()).points:
        plain = settling_diameter_um(
            point.effective_depth_cm,
            point.elapsed_s,
            solution_viscosity_mpa_s(21.0, 5.0),
            _excess(21.0, 5.0),
        )
        assert point.diameter_um == pytest.approx(plain, rel=1e-12)


def test_changing_temperature_lies_between_its_ends() -> None:
    steady = figures(good_run()).points[-1].diameter_um
    warmed = figures(with_reading(8, temperature_c=24.0)).points[-1].diameter_um
    hot_all_the_way = settling_paths([86400.0], [24.0], 5.0)[0].diameter_um(
        figures(good_run()).points[-1].effective_depth_cm, 2.65
    )
    assert hot_all_the_way < warmed < steady
    # Three degrees overnight: the last temperature alone would misplace the size by 1.5 to 3 %.
    assert warmed / hot_all_the_way == pytest.approx(1.017, abs=0.003)


def test_trapezoid_over_two_temperatures() -> None:
    path = settling_paths([100.0, 300.0], [20.0, 25.0], 0.0)[1]
    at_20, at_25 = (1.0 / solution_viscosity_mpa_s(t, 0.0) for t in (20.0, 25.0))
    assert path.fluidity == pytest.approx(100 * at_20 + 200 * (at_20 + at_25) / 2)
