"""Effective depth from the measured shape of the bulb and the cylinder."""

from __future__ import annotations

import pytest

from particles.distribution import DepthLine, HydrometerScale, effective_depth_line, insertion_displacement_cm
from particles.distribution.errors import HydrometerGeometryError

G_L, DENSITY = HydrometerScale.GRAMS_PER_LITRE, HydrometerScale.RELATIVE_DENSITY


def _line(scale: HydrometerScale, low: float, high: float, **changes: float) -> DepthLine:
    """Bulb 67 cm³ and cylinder 27.8 cm² read in a soil mechanics text; 14.0, 10.5 and 2.3 cm from memory."""
    measures = {"bulb_volume_cm3": 67.0, "cylinder_area_cm2": 27.8, "bulb_length_cm": 14.0, **changes}
    return effective_depth_line(scale, distances_to_bulb_top_cm=((low, 10.5), (high, 2.3)), **measures)


def test_line_of_a_152h() -> None:
    line = _line(G_L, 0.0, 50.0)
    assert line.intercept_cm == pytest.approx(16.295, abs=0.005)
    assert line.slope_cm_per_unit == pytest.approx(0.164, abs=0.0005)


@pytest.mark.parametrize(("level", "printed_cm"), [(25, 12.2), (35, 10.5), (49, 8.3), (52, 7.8)])
def test_printed_depths_of_a_152h(level: float, printed_cm: float) -> None:
    """Table points read in two published worked examples, printed to 0.1 cm."""
    line = _line(G_L, 0.0, 50.0)
    assert line.intercept_cm - line.slope_cm_per_unit * level == pytest.approx(printed_cm, abs=0.1)


@pytest.mark.parametrize(
    ("level", "printed_cm"), [(1.018, 11.5), (1.014, 12.6), (1.010, 13.7), (1.008, 14.2)]
)
def test_printed_depths_of_a_151h(level: float, printed_cm: float) -> None:
    """Table points read in a published worked example, printed to 0.1 cm."""
    line = _line(DENSITY, 1.0, 1.031)
    assert line.intercept_cm - line.slope_cm_per_unit * (level - 1.0) == pytest.approx(printed_cm, abs=0.1)


def test_marks_may_lie_anywhere_on_the_stem() -> None:
    assert effective_depth_line(
        G_L,
        bulb_volume_cm3=67.0,
        cylinder_area_cm2=27.8,
        bulb_length_cm=14.0,
        distances_to_bulb_top_cm=((40.0, 3.94), (10.0, 8.86)),
    ).intercept_cm == pytest.approx(_line(G_L, 0.0, 50.0).intercept_cm)


def test_displacement_of_the_insertion() -> None:
    assert insertion_displacement_cm(67.0, 27.8) == pytest.approx(1.205, abs=0.001)
    wide, narrow = (
        _line(G_L, 0.0, 50.0, cylinder_area_cm2=29.4),
        _line(G_L, 0.0, 50.0, cylinder_area_cm2=26.3),
    )
    assert wide.intercept_cm - narrow.intercept_cm == pytest.approx(0.135, abs=0.005)


@pytest.mark.parametrize(
    "changes", [{"bulb_volume_cm3": 0.0}, {"cylinder_area_cm2": -1.0}, {"bulb_length_cm": 0.0}]
)
def test_impossible_measures_are_refused(changes: dict[str, float]) -> None:
    with pytest.raises(HydrometerGeometryError):
        _line(G_L, 0.0, 50.0, **changes)


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.0), (50.0, 0.0)])
def test_marks_in_the_wrong_order_are_refused(low: float, high: float) -> None:
    with pytest.raises(HydrometerGeometryError, match="higher mark"):
        _line(G_L, low, high)
