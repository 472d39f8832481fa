"""Class chances in further texture systems, each at its own limits within the draws."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import ClayExtrapolation, Interpolation, MethodEdition, RunRecord
from particles.distribution.curve.other_systems import parts_at
from particles.distribution.curve.points import size_points, smoothed
from particles.distribution.inputs.between_run import BetweenRunSds
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.possible import LEAST_DRAWS
from particles.distribution.uncertainty.model import RunModel
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, figures, good_run, sieved, with_readings

ALSO = replace(NINE, also_systems=("GERMANY_KA5", "BELGIUM", "ISSS"), confirmed_systems=("ISSS",))


def test_every_reported_system_gets_chances_that_add_up() -> None:
    answer = figures(good_run(sieving=sieved(opening_um=50.0)), method=ALSO, draws=2000)
    assert [texture.system for texture in answer.other_textures] == ["GERMANY_KA5", "BELGIUM", "ISSS"]
    for texture in answer.other_textures:
        chances = [chance for _, chance in texture.chances]
        assert sum(chances) == pytest.approx(1.0)
        assert chances == sorted(chances, reverse=True)


def test_the_own_class_keeps_its_chances_beside_others() -> None:
    alone, among = (figures(good_run(), method=method, draws=1000, seed=3) for method in (NINE, ALSO))
    assert alone.texture == among.texture


def test_without_draws_no_chances() -> None:
    assert [each.chances for each in figures(good_run(), method=ALSO).other_textures] == [(), ()]


@pytest.mark.parametrize("rule", list(Interpolation))
@pytest.mark.parametrize("record", [good_run(), good_run(sieving=sieved())], ids=["hydrometer", "sieves"])
@pytest.mark.parametrize("limits_um", [(2.0, 50.0), (2.0, 60.0), (2.0, 63.0), (2.0, 20.0), (6.0, 200.0)])
def test_draws_without_errors_give_the_run_itself(
    rule: Interpolation, record: RunRecord, limits_um: tuple[float, float]
) -> None:
    """At every limit the drawn curve is read off as `parts_at` reads the curve of the run."""
    method = replace(NINE, interpolation=rule)
    answer = figures(record, method=method)
    assert answer.fractions is not None
    wanted = parts_at(answer.fractions, answer.curve, method, *limits_um)
    drawn = _undoubted(record, method, limits_um)
    if wanted is None:
        assert limits_um[1] > answer.curve[0].diameter_um
    else:
        assert drawn == pytest.approx(wanted, abs=1e-4)


def test_the_day_line_serves_in_the_draws_too() -> None:
    warm = with_readings(temperature_c=15.0, blank_temperature_c=15.0)
    slow = replace(warm, readings=(*warm.readings[:8], replace(warm.readings[8], elapsed_s=73_000.0)))
    slow = replace(slow, particle_density_g_cm3=2.3)
    for rule in (ClayExtrapolation.FACTOR, ClayExtrapolation.DAY_LINE):
        method = replace(NINE, clay_extrapolation=rule)
        answer = figures(slow, method=method).fractions
        assert answer is not None
        wanted = (answer.sand.value_pct, answer.silt.value_pct, answer.clay.value_pct)
        assert _undoubted(slow, method, (2.0, 50.0)) == pytest.approx(wanted, abs=1e-9)


def _undoubted(
    record: RunRecord, method: MethodEdition, limits_um: tuple[float, float]
) -> tuple[float, float, float]:
    mass = portion_mass(record)
    assert mass is not None
    model = RunModel(record, method, smoothed(size_points(record, method, mass.mass_g)), mass)
    runs = model.run(model.variates(LEAST_DRAWS), EXACT, BetweenRunSds(0.0, 0.0))
    sand, silt, clay = runs.at_limits(*limits_um, runs.sand_silt_clay())
    assert (sand.std(), clay.std()) == pytest.approx((0.0, 0.0), abs=1e-9)
    return float(sand[0]), float(silt[0]), float(clay[0])
