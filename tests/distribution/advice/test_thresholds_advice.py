"""Where the targets of a portion begin, from both sides, and what is taken where nothing is said."""

from __future__ import annotations

import pytest

from particles.distribution import SandSiltClay, portion_advice, portion_apart_findings
from particles.distribution.advice.expected import ExpectedCurve
from particles.distribution.advice.portion import PortionCandidate, clay_standard_uncertainty_pct
from particles.distribution.errors import UnknownTextureError
from tests.support.runs import NINE, STEM_152H

LOAMY = SandSiltClay(30.0, 50.0, 20.0)


def _candidate(mass_g: float, parts: SandSiltClay[float] = LOAMY) -> PortionCandidate:
    return portion_advice(parts, NINE, STEM_152H, candidates_g=(mass_g,)).recommended


@pytest.mark.parametrize(
    ("mass_g", "first_g_l", "kept"),
    [(20.4, 14.8, False), (20.9, 15.2, True), (63.0, 44.7, True), (64.0, 45.3, False)],
)
def test_the_first_corrected_reading_lies_between_15_and_45(
    mass_g: float, first_g_l: float, kept: bool
) -> None:
    found = _candidate(mass_g)
    assert found.first_corrected_g_l == pytest.approx(first_g_l, abs=0.1)
    assert ("first corrected reading" not in found.shortfall) is kept


@pytest.mark.parametrize(("mass_g", "last_g_l", "kept"), [(36.0, 4.97, False), (36.5, 5.04, True)])
def test_the_last_corrected_reading_is_5_or_more(mass_g: float, last_g_l: float, kept: bool) -> None:
    found = _candidate(mass_g, SandSiltClay(40.0, 45.0, 15.0))
    assert found.last_corrected_g_l == pytest.approx(last_g_l, abs=0.01)
    assert found.within_targets is kept


def test_the_mass_whose_first_reading_lies_nearest_30_is_recommended() -> None:
    """40 g give 28.8 g/L, 45 g 32.3 and 41 g 29.5."""
    for masses_g, best_g in (((40.0, 45.0), 40.0), ((40.0, 41.0, 45.0), 41.0), ((30.0, 40.0, 57.0), 40.0)):
        assert portion_advice(LOAMY, NINE, STEM_152H, candidates_g=masses_g).recommended.mass_g == best_g


def test_masses_looked_at_and_the_bath_where_nothing_is_said() -> None:
    advice = portion_advice("loam", NINE, STEM_152H)
    assert [each.mass_g for each in advice.candidates] == [20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0]
    assert advice == portion_advice(
        "loam",
        NINE,
        STEM_152H,
        blank_g_l=4.6,
        temperature_c=20.0,
        particle_density_g_cm3=2.65,
        dispersant_g_l=5.0,
        volume_ml=1000.0,
        between_run_sd_pct=1.5,
    )
    assert clay_standard_uncertainty_pct(20.0, 40.0, NINE, 1.5) == clay_standard_uncertainty_pct(
        20.0, 40.0, NINE, 1.5, 2.65, 1000.0
    )


@pytest.mark.parametrize(
    ("mass_g", "apart"),
    [(26.9, True), (27.1, False), (65.9, False), (66.1, True), (54.9, False)],
)
def test_a_portion_more_than_a_tenth_off_every_mass_advised(mass_g: float, apart: bool) -> None:
    """Of a loam 30, 40, 50 and 60 g keep all targets."""
    found = portion_apart_findings(mass_g, "loam", NINE, STEM_152H)
    assert bool(found) is apart
    assert found == portion_apart_findings(mass_g, "loam", NINE, STEM_152H, particle_density_g_cm3=2.65)


def test_clay_is_taken_to_end_at_a_fiftieth_of_a_micrometre() -> None:
    """Half of it lies half way in the logarithm from 2 µm, at 0.2 µm."""
    assert ExpectedCurve(LOAMY).percent_finer(0.2) == pytest.approx(10.0)


def test_expected_parts_add_up_within_half_a_point() -> None:
    for off_pct in (0.5, -0.5):
        curve = ExpectedCurve(SandSiltClay(30.0, 50.0, 20.0 + off_pct))
        assert curve.percent_finer(2.0) == pytest.approx(20.0 + off_pct)
    for off_pct in (0.6, -0.6):
        with pytest.raises(UnknownTextureError):
            ExpectedCurve(SandSiltClay(30.0, 50.0, 20.0 + off_pct))
