"""Readings to concentration and depth."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import DepthLine, DepthTable, Hydrometer, HydrometerScale
from particles.distribution.errors import DepthNotPositiveError, DepthOutsideTableError
from particles.distribution.settling.hydrometer import (
    concentration_factor,
    density_factor,
    depth_per_unit_cm,
    effective_depth_cm,
    temperature_difference_correction,
)
from particles.distribution.settling.water import WATER_20_G_CM3
from tests.support.runs import NINE, STEM_152H, figures, good_run

G_L, DENSITY = HydrometerScale.GRAMS_PER_LITRE, HydrometerScale.RELATIVE_DENSITY
TABLE = replace(STEM_152H, depth=DepthTable((0.0, 20.0, 50.0), (16.3, 13.0, 8.1)), meniscus_correction=1.0)


@pytest.mark.parametrize(
    ("density", "printed"),
    [
        (2.95, 0.94),
        (2.9, 0.95),
        (2.85, 0.96),
        (2.8, 0.97),
        (2.75, 0.98),
        (2.7, 0.99),
        (2.65, 1.0),
        (2.6, 1.01),
    ]
    + [(2.55, 1.02)],
)
def test_density_factor_agrees_with_printed_table(density: float, printed: float) -> None:
    """Tables printed to 2 decimals in course handouts; one unit of tolerance, as some are cut."""
    assert density_factor(density) == pytest.approx(printed, abs=0.0075)


@pytest.mark.parametrize("density", [2.35, 2.5, 2.65, 2.8, 2.95])
def test_exact_and_short_form_of_the_factor(density: float) -> None:
    assert density_factor(density) == pytest.approx(1.65 * density / (2.65 * (density - 1)), abs=3.1e-4)


@pytest.mark.parametrize(
    ("temperature_c", "expected_g_l"),
    [(15, -1.24), (18, -0.55), (20, 0.0), (22, 0.62), (25, 1.66), (28, 2.85), (30, 3.71)],
)
def test_warmer_than_its_blank_reads_low(temperature_c: float, expected_g_l: float) -> None:
    """Water and glass from IAPWS density and 25e-6 /C, to 0.01 g/L, at 1/0.6226 g/L per kg/m³ as tabled."""
    in_water_of_20_c = 1.65 / (2.65 - WATER_20_G_CM3)
    assert temperature_difference_correction(G_L, temperature_c, 20.0) == pytest.approx(
        expected_g_l * in_water_of_20_c, abs=0.006
    )


def test_both_scales_see_the_same_warmth() -> None:
    grams = temperature_difference_correction(G_L, 24.0, 21.0)
    thousandths = temperature_difference_correction(DENSITY, 24.0, 21.0)
    assert thousandths / grams == pytest.approx((2.65 - 0.99821) / 2.65 / 0.99821, rel=1e-5)


@pytest.mark.parametrize("density", [2.4, 2.6, 2.65, 2.8, 3.0])
def test_both_stems_find_the_same_soil_in_one_suspension(density: float) -> None:
    """
    A suspension of 20 g/L in water of 20 C, by its density alone.

    Water 0.998207 g/cm³: IAPWS, fixtures/reference/water.json. Scales by ASTM E100, from memory: a 152H shows g/L of
    soil of 2.65 g/cm³, a 151H relative density 20/20.
    """
    water = 0.998207
    heavier_kg_m3 = 20.0 * (density - water) / density
    on_152h = heavier_kg_m3 * 2.65 / (2.65 - water)
    on_151h = heavier_kg_m3 / water
    assert concentration_factor(G_L, density) * on_152h == pytest.approx(20.0, rel=1e-5)
    assert concentration_factor(DENSITY, density) * on_151h == pytest.approx(20.0, rel=1e-5)


def test_the_customary_factor_of_the_151h_takes_water_as_1() -> None:
    """Gs/(Gs - 1), 1.625 at 2.60: 0.29 % above the same formula in water of 20 C."""
    assert 1.625 / concentration_factor(DENSITY, 2.6) == pytest.approx(1.0029, abs=5e-5)


def test_meniscus_moves_the_depth_and_not_the_soil() -> None:
    with_meniscus = figures(good_run(hydrometer=replace(STEM_152H, meniscus_correction=1.5)))
    assert len(with_meniscus.points) == 9
    for plain, moved in zip(figures(good_run()).points, with_meniscus.points, strict=True):
        assert moved.concentration_g_l == plain.concentration_g_l
        assert plain.effective_depth_cm - moved.effective_depth_cm == pytest.approx(0.1641)


def test_a_hydrometer_left_in_has_its_displacement_added_back() -> None:
    left_in = replace(NINE, still_inserted_until_s=60.0)
    deeper = [
        b.effective_depth_cm - a.effective_depth_cm
        for a, b in zip(figures(good_run()).points, figures(good_run(), method=left_in).points, strict=True)
    ]
    assert deeper[:2] == pytest.approx([1.2, 1.2])
    assert deeper[2:] == pytest.approx([0.0] * 7)


def test_table_is_straight_between_its_points() -> None:
    assert effective_depth_cm(TABLE, 9.0) == pytest.approx(14.65)
    assert effective_depth_cm(TABLE, 49.0) == pytest.approx(8.1)
    assert depth_per_unit_cm(TABLE, 30.0) == pytest.approx(4.9 / 30)


def test_outside_the_table_is_refused() -> None:
    with pytest.raises(DepthOutsideTableError, match="0 to 50"):
        effective_depth_cm(TABLE, 50.0)


def test_a_depth_of_nothing_is_refused() -> None:
    short = Hydrometer("x", G_L, DepthLine(5.0, 0.2), 0.0)
    with pytest.raises(DepthNotPositiveError):
        effective_depth_cm(short, 30.0)
