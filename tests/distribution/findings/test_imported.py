"""Fractions from elsewhere: they add up to about 100, or the rows are looked at."""

from __future__ import annotations

import pytest

from particles.distribution import Severity
from particles.distribution.findings.imported import imported_fractions_findings


@pytest.mark.parametrize(
    "parts", [(40.0, 40.0, 20.0), (40.0, 40.0, 18.0), (41.0, 41.0, 20.0), (100.0, 0.0, 0.0)]
)
def test_plausible_parts_raise_nothing(parts: tuple[float, ...]) -> None:
    assert imported_fractions_findings(parts) == []


@pytest.mark.parametrize(("parts", "apart"), [((40.0, 40.0, 17.9), "-2.1"), ((42.0, 40.1, 20.0), "+2.1")])
def test_a_sum_apart_says_by_how_much(parts: tuple[float, ...], apart: str) -> None:
    (found,) = imported_fractions_findings(parts)
    assert (found.code, found.severity) == ("imported_sum", Severity.STOP)
    assert apart in found.sentence
    assert found.number == pytest.approx(sum(parts))


def test_a_part_below_nothing_is_named_even_when_the_sum_is_right() -> None:
    (found,) = imported_fractions_findings((60.0, 45.0, -5.0))
    assert (found.code, found.number) == ("imported_out_of_range", -5.0)


def test_a_part_above_everything_is_named_even_when_the_sum_is_right() -> None:
    (found,) = imported_fractions_findings((100.1, 0.0, 0.0))
    assert (found.code, found.number) == ("imported_out_of_range", 100.1)
