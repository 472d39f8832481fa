"""A portion far from every mass advised for its texture."""

from __future__ import annotations

import pytest

from particles.distribution import (
    METHOD_EDITIONS,
    USDA_CLASSES,
    mass_findings,
    moisture_findings,
    portion_advice,
    portion_apart_findings,
)
from tests.support.runs import NINE, STEM_152H


@pytest.mark.parametrize("texture", USDA_CLASSES)
def test_every_advised_mass_is_taken_and_what_lies_far_off_is_not(texture: str) -> None:
    advice = portion_advice(texture, NINE, STEM_152H)
    kept = [c.mass_g for c in advice.candidates if c.within_targets] or [advice.recommended.mass_g]
    for mass_g in kept:
        for share in (0.91, 1.0, 1.09):
            assert portion_apart_findings(mass_g * share, texture, NINE, STEM_152H) == []
    (light,) = portion_apart_findings(min(kept) * 0.45, texture, NINE, STEM_152H)
    (heavy,) = portion_apart_findings(max(kept) * 2.2, texture, NINE, STEM_152H)
    assert f"55 % lighter than the {min(kept):g} g" in light.sentence
    assert f"120 % heavier than the {max(kept):g} g" in heavy.sentence
    assert (light.number, heavy.number) == pytest.approx((min(kept) * 0.45, max(kept) * 2.2))


@pytest.mark.parametrize(
    ("texture", "mass_g", "code"),
    [("sand", 30.0, "portion_too_light"), ("loamy sand", 40.0, "portion_too_light"),
     ("clay", 80.0, "portion_too_heavy"), ("silty clay", 100.0, "portion_too_heavy")],
)  # fmt: skip
def test_too_little_of_a_sand_and_too_much_of_a_clay(texture: str, mass_g: float, code: str) -> None:
    (found,) = portion_apart_findings(mass_g, texture, NINE, STEM_152H)
    assert found.code == code
    assert found.next_step.startswith("Weigh a portion near ")


@pytest.mark.parametrize(("moisture_pct", "odd"), [(-0.1, 1), (0.0, 1), (0.01, 0), (15.0, 0), (15.01, 1)])
def test_moisture_limits(moisture_pct: float, odd: int) -> None:
    assert len(moisture_findings(moisture_pct)) == odd


@pytest.mark.parametrize(("mass_g", "odd"), [(9.99, 1), (10.0, 0), (120.0, 0), (120.01, 1)])
def test_mass_limits_are_those_of_the_edition(mass_g: float, odd: int) -> None:
    assert all(len(mass_findings(mass_g, edition.limits)) == odd for edition in METHOD_EDITIONS.values())
