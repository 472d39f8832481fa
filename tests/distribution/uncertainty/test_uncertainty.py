"""The draws: reproducible, and right where the answer is known without them."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from particles.distribution import InputUncertainties, MethodEdition, RunRecord, compute_distribution
from tests.support.runs import NINE, figures, good_run, sieved

GOOD = good_run()
EXACT = InputUncertainties(**{each.name: 0.0 for each in fields(InputUncertainties)})


def _only(dispersion_sd_pct: float = 0.0, **doubt: Any) -> MethodEdition:
    """The edition with a single doubtful input."""
    return replace(NINE, uncertainties=replace(EXACT, **doubt), dispersion_sd_pct=dispersion_sd_pct)


def _sds(method: MethodEdition, record: RunRecord = GOOD) -> tuple[float, float, float]:
    answer = figures(record, method=method, draws=20_000, seed=7)
    assert answer.fractions is not None
    parts = (answer.fractions.clay, answer.fractions.silt, answer.fractions.sand)
    return tuple(part.standard_uncertainty_pct or 0.0 for part in parts)  # type: ignore[return-value]


def test_no_doubt_no_spread() -> None:
    assert _sds(_only()) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)


def test_a_shared_blank_moves_clay_and_sand_and_not_silt() -> None:
    assert _sds(_only(blank_g_l=0.3)) == pytest.approx((0.75, 0.0, 0.75), rel=0.03, abs=1e-9)


def test_between_run_spread() -> None:
    assert _sds(_only(1.5)) == pytest.approx((1.5, 1.5 * 2**0.5, 1.5), rel=0.03)


def test_mass_and_volume_act_in_proportion() -> None:
    answer = figures(GOOD).fractions
    assert answer is not None
    clay, _, sand = _sds(_only(volume_pct=0.3))
    assert clay == pytest.approx(0.003 * answer.clay.value_pct, rel=0.03)
    assert sand == pytest.approx(0.003 * (100 - answer.sand.value_pct), rel=0.03)
    assert _sds(_only(mass_g=0.05))[0] == pytest.approx(0.05 / 40 * answer.clay.value_pct, rel=0.03)


@pytest.mark.parametrize(
    ("doubt", "changed"),
    [
        ({"particle_density_g_cm3": 0.05}, lambda h: replace(GOOD, particle_density_g_cm3=2.65 + h * 0.05)),
        (
            {"temperature_c": 0.5},
            lambda h: replace(
                GOOD,
                readings=tuple(
                    replace(p, temperature_c=21 + h * 0.5, blank_temperature_c=21 + h * 0.5)
                    for p in GOOD.readings
                ),
            ),
        ),
        (
            {"start_s": 1.0},
            lambda h: replace(
                GOOD, readings=tuple(replace(p, elapsed_s=p.elapsed_s + h) for p in GOOD.readings)
            ),
        ),
    ],
    ids=["density", "temperature", "start"],
)
def test_spread_agrees_with_moving_the_input_by_hand(doubt: dict[str, float], changed: Any) -> None:
    """Half the change from one standard uncertainty below to one above, computed by the run itself."""
    low, high = (figures(changed(h)).fractions for h in (-1.0, 1.0))
    assert low is not None
    assert high is not None
    clay, _, sand = _sds(_only(**doubt))
    assert clay == pytest.approx(abs(high.clay.value_pct - low.clay.value_pct) / 2, rel=0.06, abs=0.003)
    assert sand == pytest.approx(abs(high.sand.value_pct - low.sand.value_pct) / 2, rel=0.06, abs=0.003)


def test_one_reading_on_its_own() -> None:
    """Clay lies between the last two readings; their weights in log diameter give the spread."""
    points = figures(GOOD).points
    share = np.log(2.0 / points[7].diameter_um) / np.log(points[8].diameter_um / points[7].diameter_um)
    expected = 0.3 / 40 * 100 * np.hypot(share, 1 - share)
    assert _sds(_only(reading_g_l=0.3))[0] == pytest.approx(expected, rel=0.05)


def test_sand_by_sieve_hardly_doubts_anything_but_the_run() -> None:
    """Three sieves of 0.02 g each and the portion of 0.05 g, by hand; the finest has the opening of the limit."""
    sieving = sieved(opening_um=50.0)
    record = replace(GOOD, sieving=sieving)
    sand_g = sum(sieve.retained_g for sieve in sieving.sieves)
    expected = 100 / 40 * np.hypot(0.02 * 3**0.5, sand_g / 40 * 0.05)
    exact_openings = replace(NINE.uncertainties, sieve_opening_pct=0.0)
    method = replace(NINE, dispersion_sd_pct=0.0, uncertainties=exact_openings)
    assert _sds(method, record)[2] == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("opening_um", [50.0, 53.0])
def test_a_doubtful_opening_doubts_sand_by_the_slope_there(opening_um: float) -> None:
    """2 % of a straight piece of the curve, by hand from the two readings around the sieve."""
    answer = figures(replace(GOOD, sieving=sieved(opening_um=opening_um)))
    coarse, fine = answer.points[:2]
    fall = coarse.percent_finer_curve - fine.percent_finer_curve
    slope = fall / np.log(coarse.diameter_um / fine.diameter_um)
    record = replace(GOOD, sieving=sieved(opening_um=opening_um))
    assert _sds(_only(sieve_opening_pct=2.0), record)[2] == pytest.approx(0.02 * slope, rel=0.03)


def test_each_blank_on_its_own_doubts_silt_too() -> None:
    """Clay lies between two readings, each with a blank of its own: weights in log diameter, as for readings."""
    points = figures(GOOD).points
    share = np.log(2.0 / points[7].diameter_um) / np.log(points[8].diameter_um / points[7].diameter_um)
    clay, silt, _ = _sds(_only(blank_reading_g_l=0.35))
    assert clay == pytest.approx(0.35 / 40 * 100 * np.hypot(share, 1 - share), rel=0.05)
    assert silt > 1.2 * clay


def test_readings_that_share_a_blank_share_its_error() -> None:
    """One reading of the blank for all nine: clay and sand move against each other, and silt not at all."""
    one = replace(GOOD, readings=tuple(replace(p, blank_number=0) for p in GOOD.readings))
    assert _sds(_only(blank_reading_g_l=0.3), one) == pytest.approx((0.75, 0.0, 0.75), rel=0.03, abs=1e-9)
    numbered = tuple(replace(p, blank_number=k) for k, p in enumerate(GOOD.readings))
    each = _sds(_only(blank_reading_g_l=0.3), replace(GOOD, readings=numbered))
    assert each == _sds(_only(blank_reading_g_l=0.3))


def test_a_thermometer_misreads_the_blank_by_what_a_degree_does() -> None:
    """Two thermometer readings of 0.2 C for each difference; by the densities of water at 20.5 and 21.5 C."""
    # IAPWS, 998.102 and 997.887 kg/m³, less the stretching of the glass, as soil of 2.65 g/cm³. [g/L per C]
    per_c = (0.215 - 25e-6 * 998.0) * 2.65 / 1.65
    one = replace(GOOD, readings=tuple(replace(p, blank_number=0) for p in GOOD.readings))
    clay, silt, _ = _sds(_only(thermometer_c=0.2), one)
    assert clay == pytest.approx(2**0.5 * 0.2 * per_c / 40 * 100, rel=0.05)
    assert silt == pytest.approx(0.0, abs=1e-9)
    untold = replace(GOOD, readings=tuple(replace(p, blank_temperature_c=None) for p in one.readings))
    assert _sds(_only(thermometer_c=0.2), untold)[0] == pytest.approx(0.5 * per_c / 40 * 100, rel=0.05)


def test_a_clock_that_was_off_doubts_the_times_it_gave() -> None:
    """Two early readings by a clock found 2 s off: evenly within 2 s, so 2 / sqrt(3) s, on both alike."""
    points = tuple(
        replace(p, time_doubt="it slept", time_doubt_s=-2.0) if k < 2 else p
        for k, p in enumerate(GOOD.readings)
    )
    method = _only(start_s=1e-9)
    clay, silt, sand = _sds(method, replace(GOOD, readings=points))
    moved = []
    for share in (-0.1, 0.1):
        late_s = share * 2.0 / 3.0**0.5
        early = tuple(replace(p, elapsed_s=p.elapsed_s + late_s) for p in GOOD.readings[:2])
        moved.append(figures(replace(GOOD, readings=(*early, *GOOD.readings[2:]))).fractions)
    assert moved[0] is not None
    assert moved[1] is not None
    by_hand = abs(moved[1].sand.value_pct - moved[0].sand.value_pct) / 0.2
    assert sand == pytest.approx(by_hand, rel=0.06)
    assert silt == pytest.approx(sand, rel=0.01)
    assert clay == pytest.approx(0.0, abs=1e-6)
    unknown = tuple(replace(p, time_doubt_s=None) for p in points)
    assert _sds(method, replace(GOOD, readings=unknown))[2] == pytest.approx(0.0, abs=1e-6)


def test_same_record_same_figures() -> None:
    first, second = compute_distribution(GOOD, NINE), compute_distribution(GOOD, NINE)
    assert first == second
    assert first.seed is not None
    assert compute_distribution(GOOD, NINE, seed=first.seed) == first


def test_chances_add_up_and_fall() -> None:
    texture = compute_distribution(GOOD, NINE).texture
    assert texture is not None
    chances = [chance for _, chance in texture.chances]
    assert sum(chances) == pytest.approx(1.0)
    assert chances == sorted(chances, reverse=True)
    assert texture.chances[0][0] == texture.name


def test_no_draws_no_uncertainty() -> None:
    answer = figures(GOOD)
    assert answer.fractions is not None
    assert answer.texture is not None
    assert (answer.draws, answer.seed, answer.texture.chances) == (0, None, ())
    assert answer.fractions.clay.standard_uncertainty_pct is None
    assert not any("Monte Carlo" in note for note in answer.notes)


def test_without_fractions_nothing_is_drawn() -> None:
    answer = compute_distribution(replace(GOOD, readings=GOOD.readings[:4]), NINE)
    assert (answer.fractions, answer.draws, answer.seed) == (None, 0, None)


def test_other_limits_get_fractions_but_no_class() -> None:
    answer = compute_distribution(GOOD, replace(NINE, sand_limit_um=63.0))
    assert answer.fractions is not None
    assert answer.texture is None
    assert answer.fractions.sand.low_pct is not None
