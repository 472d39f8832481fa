"""What each correction of one run does, by hand and against the run computed without it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import (
    Correction,
    DepthTable,
    ExplainedReading,
    Explanation,
    RunRecord,
    StepEffect,
    TemperatureLine,
    explain,
)
from particles.distribution.settling.hydrometer import above_zero
from particles.distribution.settling.stem_scale import on_scale
from tests.support.runs import NINE, STEM_152H, TWO, figures, good_run, sieved, with_reading

GOOD = good_run()
FULL = with_reading(
    8,
    good_run(
        oven_dry_mass_g=None,
        air_dry_mass_g=41.0,
        moisture_pct=2.5,
        particle_density_g_cm3=2.75,
        hydrometer=replace(STEM_152H, scale_corrections=((0.0, 0.3), (60.0, -0.2))),
    ),
    elapsed_s=80000.0,
    temperature_c=23.0,
)
"""Invented: every step has something to do."""


def _effect(explanation: Explanation, step: str) -> StepEffect:
    return next(effect for effect in explanation.effects if effect.step == step)


def _figures(record: RunRecord) -> tuple[float, float, float]:
    fractions = figures(record).fractions
    assert fractions is not None
    return fractions.clay.value_pct, fractions.silt.value_pct, fractions.sand.value_pct


def test_figures_are_the_reported_ones() -> None:
    explanation = explain(FULL, NINE)
    assert (explanation.clay_pct, explanation.silt_pct, explanation.sand_pct) == _figures(FULL)
    assert (explanation.label, explanation.method_code) == (FULL.label, NINE.code)


def test_one_reading_by_hand() -> None:
    """36 - 4.5 g/L of soil of 2.65 g/cm³ in 40 g per litre."""
    reading = explain(GOOD, NINE).readings[1]
    assert (reading.raw, reading.scale_correction, reading.blank_reading) == (36.0, 0.0, 4.5)
    assert (reading.blank_temperature_correction, reading.other_correction) == (0.0, 0.0)
    assert (reading.net, reading.factor) == (31.5, pytest.approx(1.0))
    assert reading.percent_finer == pytest.approx(78.75)


def _net_by_parts(record: RunRecord, reading: ExplainedReading) -> float:
    """The net reading put together again from its explained parts, in graduations of the stem."""
    scale = record.hydrometer.scale
    shown = above_zero(scale, reading.raw + reading.scale_correction) - reading.other_correction
    if reading.blank_reading is None:
        return shown
    blank = above_zero(scale, on_scale(record.hydrometer, reading.blank_reading))
    return shown - (blank - reading.blank_temperature_correction)


@pytest.mark.parametrize(
    "record",
    [
        GOOD,
        FULL,
        replace(FULL, correction=Correction.NONE),
        replace(
            FULL,
            correction=Correction.SEPARATE,
            zero_correction_graduations=3.0,
            temperature_correction=TemperatureLine(-4.85, 0.25),
        ),
    ],
    ids=["good", "full", "none", "separate"],
)
def test_the_parts_of_every_reading_make_its_percentage(record: RunRecord) -> None:
    answer, explanation = figures(record), explain(record, NINE)
    assert answer.oven_dry_mass_g is not None
    for point, reading in zip(answer.points, explanation.readings, strict=True):
        assert _net_by_parts(record, reading) == pytest.approx(reading.net, abs=1e-9)
        assert reading.net * reading.factor == pytest.approx(reading.concentration_g_l)
        assert 100.0 * reading.concentration_g_l / answer.oven_dry_mass_g == pytest.approx(
            reading.percent_finer
        )
        assert (reading.diameter_um, reading.percent_finer) == (point.diameter_um, point.percent_finer)


def test_the_blank_of_the_last_reading_follows_the_warmer_suspension() -> None:
    """2 C near 22 C are 2 x 0.32 g/L."""
    assert explain(FULL, NINE).readings[8].blank_temperature_correction == pytest.approx(0.65, abs=0.01)


def _same_temperature(record: RunRecord) -> RunRecord:
    return replace(
        record,
        readings=tuple(replace(p, blank_temperature_c=p.temperature_c) for p in record.readings),
    )


WITHOUT: dict[str, RunRecord] = {
    "scale correction": replace(FULL, hydrometer=STEM_152H),
    "blank": replace(FULL, correction=Correction.NONE),
    "blank temperature": _same_temperature(FULL),
    "particle density": replace(FULL, particle_density_g_cm3=2.65),
    "moisture": replace(FULL, moisture_pct=0.0),
    "dispersant in the liquid": replace(FULL, dispersant_g_l=0.0),
    "meniscus in the depth": replace(FULL, hydrometer=replace(FULL.hydrometer, meniscus_correction=0.0)),
    "true times": with_reading(8, FULL, elapsed_s=86400.0),
}


@pytest.mark.parametrize("step", WITHOUT)
def test_a_step_is_the_difference_to_the_run_without_it(step: str) -> None:
    effect = _effect(explain(FULL, NINE), step)
    expected = [a - b for a, b in zip(_figures(FULL), _figures(WITHOUT[step]), strict=True)]
    assert [effect.clay_pct, effect.silt_pct, effect.sand_pct] == pytest.approx(expected)
    assert f"clay {effect.clay_pct:+.2f}" in effect.sentence


def test_steps_come_in_the_order_of_the_computation() -> None:
    assert [effect.step for effect in explain(FULL, NINE).effects] == list(WITHOUT)


def test_leaving_the_blank_out_is_the_largest_and_about_what_a_page_of_the_trade_says() -> None:
    """4.5 g/L of 40 g is 11.25 percentage points of clay."""
    effect = _effect(explain(GOOD, NINE), "blank")
    assert (effect.clay_pct, effect.sand_pct) == (pytest.approx(-11.25), pytest.approx(11.25))


def test_smoothing_appears_when_the_curve_rises() -> None:
    assert "smoothing" not in {effect.step for effect in explain(GOOD, NINE).effects}
    effect = _effect(explain(with_reading(7, reading=18.5), NINE), "smoothing")
    assert effect.clay_pct is not None
    assert effect.clay_pct != 0.0


def test_steps_the_run_does_not_take_are_left_out() -> None:
    steps = {effect.step for effect in explain(replace(GOOD, dispersant_g_l=0.0), NINE).effects}
    assert not steps & {"moisture", "scale correction", "dispersant in the liquid", "smoothing"}


def test_sand_of_another_portion() -> None:
    record = good_run(sieving=replace(sieved(), portion_oven_dry_mass_g=50.0))
    effect = _effect(explain(record, NINE), "mass of the sieved portion")
    assert effect.sand_pct == pytest.approx(100.0 * 5.7 * (1 / 50.0 - 1 / 40.0))


def test_a_run_without_figures_says_so() -> None:
    short = replace(GOOD, readings=GOOD.readings[:3])
    explanation = explain(short, NINE)
    assert (explanation.clay_pct, len(explanation.readings)) == (None, 3)
    assert all(effect.clay_pct is None for effect in explanation.effects)
    assert "no figures" in explanation.effects[0].sentence
    assert explain(replace(GOOD, oven_dry_mass_g=None), NINE).readings == ()
    assert explain(replace(GOOD, readings=GOOD.readings[::8]), TWO).readings[0].raw == 40.0


def test_a_step_whose_absence_the_calibration_does_not_reach_is_left_without_a_size() -> None:
    """The depth table begins at the true level, half a unit above the lowest reading."""
    table = DepthTable((12.5, 60.0), (14.3, 6.5))
    record = good_run(hydrometer=replace(STEM_152H, depth=table))
    (step,) = [effect for effect in explain(record, NINE).effects if effect.step == "meniscus in the depth"]
    assert (step.clay_pct, step.sand_pct) == (None, None)
    assert "no figures" in step.sentence
