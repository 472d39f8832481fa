"""The table of what remembered values decide, against the same effects by hand."""

from __future__ import annotations

from math import log

import pytest

from particles.benchmarks.remembered import BLANK_COLDER_C, CLAY_PCT, SAND_PCT, effects, figures_pct, loam
from particles.distribution import SandSiltClay
from particles.distribution.triple import with_silt_between

SLOPE = (100.0 - SAND_PCT - CLAY_PCT) / log(25.0)
"""Of the loam. [% per unit of log diameter]"""


def _moved(word: str) -> SandSiltClay[float]:
    (found,) = (moved for what, moved in effects() if word in what)
    return found


def test_the_loam_is_read_as_it_is() -> None:
    wanted = with_silt_between(SAND_PCT, CLAY_PCT)
    assert figures_pct(loam()) == pytest.approx(wanted, abs=0.02)


def test_every_effect_leaves_the_total_alone() -> None:
    assert [sum(moved) for _, moved in effects()] == pytest.approx([0.0] * 5, abs=1e-9)


def test_the_dispersant_by_hand() -> None:
    """Half of 4.25 x 5 g/L in viscosity and of 0.63 x 5 g/L in density over 1.65, times the slope."""
    by = 0.5 * (log(1.0 + 4.25 * 0.005) + 0.63 * 0.005 / 1.65) * SLOPE
    assert _moved("hexametaphosphate") == pytest.approx(SandSiltClay(sand=-by, silt=0.0, clay=by), abs=0.01)


def test_the_glass_by_hand() -> None:
    """15e-6 x 2 °C of 1000 kg/m³, on the scale of the stem, on 40 g."""
    by = 15e-6 * BLANK_COLDER_C * 1000.0 * 2.65 / 1.65 / 40.0 * 100.0
    assert _moved("glass") == pytest.approx(SandSiltClay(sand=-by, silt=0.0, clay=by), abs=0.005)


def test_the_bulb_by_hand() -> None:
    """0.25 cm of about 14 and 11.5 cm of depth, half in the logarithm."""
    sand, _, clay = _moved("bulb")
    assert clay == pytest.approx(0.125 / 14.0 * SLOPE, rel=0.1)
    assert -sand == pytest.approx(0.125 / 11.5 * SLOPE, rel=0.1)


def test_the_insertion_term_is_of_the_coarse_end_only() -> None:
    sand, silt, clay = _moved("insertion")
    assert clay == pytest.approx(0.0, abs=1e-9)
    assert sand == pytest.approx(-silt)
    assert sand > 0.3


def test_the_meniscus_enters_the_depth_alone() -> None:
    """Half a gram per litre is 0.08 cm of depth, a few hundredths of a point."""
    assert 0.0 < _moved("meniscus").clay < 0.05
