"""A pipette test says what is wrong with it, and never takes the second of two aliquots silently."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution.without_run.moisture_dishes import dish_findings, mean_moisture_pct
from particles.distribution.without_run.pipette_test import PipetteResult
from tests.support.planted_sheets import CLAY, FINE, drawn


def codes(result: PipetteResult) -> list[tuple[str, str]]:
    return [(each.code, str(each.severity)) for each in result.findings]


def test_two_aliquots_make_the_fractions() -> None:
    result = drawn(FINE, CLAY)
    assert result.fractions_pct is not None
    assert tuple(result.fractions_pct) == pytest.approx((40.0, 40.0, 20.0))
    assert result.findings == ()


def test_two_aliquots_of_one_size_that_contradict_make_no_fraction() -> None:
    result = drawn(FINE, CLAY, replace(CLAY, residue_g=0.3))
    assert result.fractions_pct is None
    assert codes(result) == [("aliquots_apart", "stop")]
    assert [each.percent for each in result.aliquots] == pytest.approx([60.0, 20.0, 60.0]), "all are shown"


@pytest.mark.parametrize(("residue_g", "code"), [(0.10999, "aliquots_averaged"), (0.1101, "aliquots_apart")])
def test_aliquots_agree_up_to_2_points_of_the_portion(residue_g: float, code: str) -> None:
    assert [each for each, _ in codes(drawn(FINE, CLAY, replace(CLAY, residue_g=residue_g)))] == [code]


def test_aliquots_that_agree_are_averaged_and_it_is_said() -> None:
    result = drawn(FINE, CLAY, replace(CLAY, residue_g=0.105))
    assert result.fractions_pct is not None
    assert result.fractions_pct.clay == pytest.approx(20.5)
    assert codes(result) == [("aliquots_averaged", "note")]


@pytest.mark.parametrize(
    ("fine_g", "clay_g", "code", "severity"),
    [
        (5.0, 0.1, "sand_negative", "stop"),
        (0.505, 0.1, "sand_negative", "warn"),
        (0.1, 0.3, "silt_negative", "stop"),
        (0.3, -0.05, "clay_negative", "stop"),
    ],
)
def test_fractions_below_nothing_are_shown_and_named(
    fine_g: float, clay_g: float, code: str, severity: str
) -> None:
    """A sand of -900 % went through without a word."""
    result = drawn(replace(FINE, residue_g=fine_g), replace(CLAY, residue_g=clay_g))
    assert result.fractions_pct is not None
    assert (code, severity) in codes(result)
    assert min(result.fractions_pct) < 0.0, "never clipped"


def test_a_size_without_an_aliquot_is_named() -> None:
    result = drawn(CLAY)
    assert result.fractions_pct is None
    assert codes(result) == [("aliquot_missing", "warn")]


def test_an_unusual_portion_is_that_of_the_pipette_and_not_of_a_hydrometer() -> None:
    assert codes(drawn(FINE, CLAY, portion_g=30.0)) == []
    assert codes(drawn(FINE, CLAY, portion_g=30.1)) == [("mass_unusual", "warn")]


def test_moisture_dishes_are_averaged_and_those_apart_are_named() -> None:
    assert mean_moisture_pct([2.0, 2.5]) == 2.25
    assert dish_findings([2.0, 2.5]) == []
    assert dish_findings([]) == []
    (found,) = dish_findings([2.0, 2.51])
    assert (found.code, found.number) == ("moisture_dishes_apart", pytest.approx(0.51))
