"""Figures and times in words on the pages."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string

from batches.templatetags.plain_figures import about, below_detection, signed
from particles.distribution import Estimate


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(45.2, "45 s"), (720, "12 min"), (3590, "1 h"), (26290, "7 h 20 min"), (86400, "24 h")],
)
def test_a_time_to_aim_for(seconds: float, words: str) -> None:
    assert about(seconds) == words


@pytest.mark.parametrize(
    ("value", "words"), [(0.124, "+0.12"), (-1.5, "−1.50"), (0.001, "0.00"), (-0.001, "0.00"), (None, "")]
)
def test_a_change_carries_its_sign(value: float | None, words: str) -> None:
    assert signed(value) == words


def cell(part: Estimate) -> str:
    return render_to_string("batches/computing/_share.html", {"part": part}).strip()


def test_a_fraction_below_detection_shows_its_limit_and_what_was_computed() -> None:
    shown = cell(Estimate(1.23, 1.8, -2.9, 4.2))
    assert shown == '<td class="number">&lt; 6<span class="computed">computed 1.2</span></td>'


@pytest.mark.parametrize("part", [Estimate(22.7, 1.8, 19.0, 26.0), Estimate(22.7)])
def test_any_other_fraction_shows_its_figure(part: Estimate) -> None:
    assert cell(part) == '<td class="number">22.7</td>'


def test_a_preliminary_figure_without_uncertainty_is_never_less_than_anything() -> None:
    assert below_detection(Estimate(0.2)) is None
