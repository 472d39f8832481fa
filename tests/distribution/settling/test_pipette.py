"""When the pipette is drawn."""

from __future__ import annotations

import pytest

from particles.distribution import METHOD_EDITIONS, PIPETTE_EDITIONS

EDITION = PIPETTE_EDITIONS["pipette-2026-1"]


@pytest.mark.parametrize(
    ("temperature_c", "at_2_um_h", "at_20_um_s"),
    [(18, 8.13, 293), (20, 7.73, 278), (22, 7.36, 265), (24, 7.02, 253), (26, 6.71, 242), (28, 6.42, 231)],
)
def test_times_from_10_cm_in_water(temperature_c: float, at_2_um_h: float, at_20_um_s: float) -> None:
    """Stokes with IAPWS water and 2.65 g/cm³, worked out apart; half a digit and 0.05 % of viscosity."""
    at_50_s, at_20_s, at_2_s = EDITION.withdrawal_times_s(temperature_c)
    assert at_20_s == pytest.approx(at_20_um_s, abs=0.6)
    assert at_2_s / 3600.0 == pytest.approx(at_2_um_h, abs=0.009)
    assert at_50_s == pytest.approx(at_20_s * 0.16)


def test_dispersant_makes_them_longer() -> None:
    ratio = EDITION.withdrawal_times_s(20.0, dispersant_g_l=5.0)[2] / EDITION.withdrawal_times_s(20.0)[2]
    assert ratio == pytest.approx(1.023, abs=0.001)


def test_no_hydrometer_run_is_computed_by_it() -> None:
    assert not set(PIPETTE_EDITIONS) & set(METHOD_EDITIONS)
    assert EDITION.sources
