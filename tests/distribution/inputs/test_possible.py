"""Each range outside of which a number is a slip stands once, and every door uses it."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from particles import bench_sheet
from particles.distribution import DistributionError, compute_distribution, possible
from particles.distribution.errors import WrongScaleError
from particles.distribution.possible import Possible
from tests.support.runs import NINE, good_run, with_reading

SCHEMA = Path(bench_sheet.__file__).with_name("schema.json")
RANGES = {name: held for name, held in vars(possible).items() if isinstance(held, Possible)}


def test_both_ends_belong_to_a_range_and_nothing_beyond_them() -> None:
    assert len(RANGES) >= 11
    for name, held in RANGES.items():
        low, high = held.exact
        step = (high - low) / 1000
        assert low in held, name
        assert high in held, name
        assert low - step not in held, name
        assert high + step not in held, name
        assert held.low in held, name
        assert held.high in held, name
        assert held.high * 1.001 not in held, name


def test_what_was_typed_is_compared_as_typed() -> None:
    assert Decimal("1.060") in possible.RELATIVE_DENSITY_POSSIBLE
    assert Decimal("1.0601") not in possible.RELATIVE_DENSITY_POSSIBLE
    assert Decimal("0.99") in possible.RELATIVE_DENSITY_POSSIBLE
    assert possible.PARTICLE_DENSITY_POSSIBLE_G_CM3.ends == ("1.5", "5")
    assert str(possible.TEMPERATURE_POSSIBLE_C) == "10 to 40 °C"


def test_the_schema_of_a_bench_sheet_has_the_same_temperatures() -> None:
    schema = json.loads(SCHEMA.read_text("utf-8"))
    found = list(_temperatures(schema))
    assert len(found) >= 2
    assert set(found) == {(possible.TEMPERATURE_POSSIBLE_C.low, possible.TEMPERATURE_POSSIBLE_C.high)}


def _temperatures(schema: object) -> list[tuple[float, float]]:
    if not isinstance(schema, dict):
        return []
    found = [pair for held in schema.values() for pair in _temperatures(held)]
    for name, held in schema.items():
        if name.endswith("temperature_c") and isinstance(held, dict) and "minimum" in held:
            found.append((held["minimum"], held["maximum"]))
    return found


@pytest.mark.parametrize("reading", [0.99, 1.0215, 1.06])
def test_a_reading_that_a_151h_can_show_was_not_read_on_a_152h(reading: float) -> None:
    with pytest.raises(WrongScaleError):
        compute_distribution(with_reading(8, reading=reading), NINE, draws=0)


@pytest.mark.parametrize("reading", [0.985, 1.0, 1.065])
def test_what_no_151h_shows_is_a_reading_in_g_l(reading: float) -> None:
    assert compute_distribution(with_reading(8, reading=reading), NINE, draws=0).points[8].reading == reading


@pytest.mark.parametrize(
    ("changes", "just_outside"),
    [
        ({"oven_dry_mass_g": possible.MASS_POSSIBLE_G}, 0.001),
        ({"particle_density_g_cm3": possible.PARTICLE_DENSITY_POSSIBLE_G_CM3}, 0.001),
        ({"volume_ml": possible.VOLUME_POSSIBLE_ML}, 0.1),
        ({"dispersant_g_l": possible.DISPERSANT_POSSIBLE_G_L}, 0.01),
        ({"between_run_sd_pct": possible.BETWEEN_RUN_POSSIBLE_PCT}, 0.01),
        ({"gravel_pct": possible.GRAVEL_POSSIBLE_PCT}, 0.01),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_the_core_computes_the_ends_and_nothing_beyond(
    changes: dict[str, Possible], just_outside: float
) -> None:
    ((name, held),) = changes.items()
    for inside in (held.low, held.high):
        compute_distribution(good_run(**{name: inside}), NINE, draws=0)
    for outside in (held.low - just_outside, held.high + just_outside):
        with pytest.raises(DistributionError, match="outside"):
            compute_distribution(good_run(**{name: outside}), NINE, draws=0)


def test_a_batch_holds_its_portions_and_one_blank() -> None:
    assert possible.MOST_PORTIONS + 1 == possible.MOST_CYLINDERS == 24
