"""The correction of an individual hydrometer's scale: applied once, to reading and blank alike."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import Correction, HydrometerScale, RunRecord
from particles.distribution.errors import ScaleCorrectionError
from particles.distribution.settling.stem_scale import scale_correction
from tests.support.runs import NINE, STEM_152H, figures, good_run, with_reading

CALIBRATED = replace(STEM_152H, scale_corrections=((0.0, 0.4), (20.0, 0.2), (50.0, -0.4)))
DENSITY_STEM = replace(
    STEM_152H, scale=HydrometerScale.RELATIVE_DENSITY, scale_corrections=((1.0, 0.0002), (1.03, -0.0004))
)


def _calibrated(**changes: object) -> RunRecord:
    return good_run(hydrometer=CALIBRATED, **changes)


@pytest.mark.parametrize(
    ("reading", "added"),
    [(0.0, 0.4), (10.0, 0.3), (20.0, 0.2), (35.0, -0.1), (50.0, -0.4), (51.0, -0.4), (-1.0, 0.4)],
)
def test_straight_between_the_points_and_flat_for_one_division_beyond(reading: float, added: float) -> None:
    assert scale_correction(CALIBRATED, reading) == pytest.approx(added)


@pytest.mark.parametrize("reading", [51.1, -1.1])
def test_further_out_is_refused(reading: float) -> None:
    with pytest.raises(ScaleCorrectionError, match="0 to 50"):
        scale_correction(CALIBRATED, reading)


def test_one_division_of_a_density_stem() -> None:
    assert scale_correction(DENSITY_STEM, 1.0308) == pytest.approx(-0.0004)
    with pytest.raises(ScaleCorrectionError):
        scale_correction(DENSITY_STEM, 1.0312)


def test_points_that_do_not_rise_are_refused() -> None:
    with pytest.raises(ScaleCorrectionError, match="must rise"):
        scale_correction(replace(STEM_152H, scale_corrections=((20.0, 0.1), (20.0, 0.2))), 20.0)


def test_an_instrument_without_calibration_is_taken_as_it_is() -> None:
    assert scale_correction(STEM_152H, 70.0) == 0.0


def test_reading_and_blank_are_corrected_alike_and_once() -> None:
    """At 36 g/L -0.12 by hand, at the blank of 4.5 g/L +0.355 by hand."""
    plain, calibrated = figures(good_run()).points[1], figures(_calibrated()).points[1]
    assert calibrated.reading == 36.0
    assert calibrated.concentration_g_l - plain.concentration_g_l == pytest.approx((-0.12 - 0.355) * 1.0)
    assert calibrated.correction_graduations == pytest.approx(plain.correction_graduations + 0.12 + 0.355)


def test_a_shift_of_the_whole_scale_cancels_against_the_blank() -> None:
    shifted = replace(STEM_152H, scale_corrections=((-5.0, 0.7), (60.0, 0.7)))
    before, after = figures(good_run()), figures(good_run(hydrometer=shifted))
    assert len(after.points) == 9
    for was, now in zip(before.points, after.points, strict=True):
        assert now.concentration_g_l == pytest.approx(was.concentration_g_l)


def test_the_depth_stays_that_of_the_mark() -> None:
    assert len(figures(_calibrated()).points) == 9
    for was, now in zip(figures(good_run()).points, figures(_calibrated()).points, strict=True):
        assert now.effective_depth_cm == was.effective_depth_cm


def test_without_a_blank_the_reading_alone_is_corrected() -> None:
    bare = figures(good_run(correction=Correction.NONE)).points[1]
    calibrated = figures(_calibrated(correction=Correction.NONE)).points[1]
    assert calibrated.concentration_g_l - bare.concentration_g_l == pytest.approx(-0.12)


def test_an_interpolated_blank_is_corrected_once_too() -> None:
    """Blanks of 4.5 on either side: the one between them must come out as if it had been read."""
    gap = with_reading(3, _calibrated(), blank_reading=None)
    filled = figures(gap, method=replace(NINE, interpolate_missing_blank=True)).points[3]
    read = figures(_calibrated()).points[3]
    assert filled.concentration_g_l == pytest.approx(read.concentration_g_l, abs=1e-6)


def test_the_notes_say_so() -> None:
    assert any("scale corrections" in note for note in figures(_calibrated()).notes)
    assert not any("scale corrections" in note for note in figures(good_run()).notes)
