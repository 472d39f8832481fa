"""What cannot be computed is refused with what, number and next step."""

from __future__ import annotations

import re
from dataclasses import replace
from math import nan
from typing import Any

import pytest

from particles.distribution import (
    Correction,
    DepthLine,
    DepthTable,
    DistributionError,
    Hydrometer,
    HydrometerScale,
    ReadingState,
    RunRecord,
    SieveMass,
    Sieving,
    TemperatureLine,
    compute_distribution,
    errors,
    method_edition,
)
from tests.support.runs import NINE, STEM_152H, figures, good_run, sieved, with_reading, with_readings

GOOD = good_run()
STEM_151H = Hydrometer(
    "H-02", HydrometerScale.RELATIVE_DENSITY, DepthLine(16.3, 263.0), 0.0005, 0.0, 0.995, 1.038
)


def _stem(**changes: Any) -> RunRecord:
    return replace(GOOD, hydrometer=replace(STEM_152H, **changes))


def _stem_151h(**changes: Any) -> RunRecord:
    return replace(GOOD, hydrometer=replace(STEM_151H, **changes))


CASES: list[tuple[type[DistributionError], str, RunRecord]] = [
    (errors.NoReadingsError, "0 readings", replace(GOOD, readings=())),
    (errors.NotANumberError, "readings/2/reading .*nan", with_reading(2, reading=nan)),
    (errors.NotANumberError, "nan", replace(GOOD, oven_dry_mass_g=nan)),
    (
        errors.NotANumberError,
        "hydrometer/depth/slope_cm_per_unit",
        replace(GOOD, hydrometer=replace(STEM_152H, depth=DepthLine(16.3, nan))),
    ),
    (errors.ReadingAbsentError, "None", with_reading(2, reading=None)),
    (errors.ReadingAbsentError, "31", with_reading(2, state=ReadingState.MISSED)),
    (errors.TimesNotRisingError, "60 s after 60 s", with_reading(0, elapsed_s=60.0)),
    (errors.TimesNotRisingError, "0 s", with_reading(0, elapsed_s=0.0)),
    (errors.WrongScaleError, "152H.*1.0215", with_reading(2, reading=1.0215)),
    (errors.WrongScaleError, "blank.*1.003", with_readings(blank_reading=1.003)),
    (errors.WrongScaleError, "151H.*40", replace(GOOD, hydrometer=STEM_151H)),
    (errors.TemperatureOutOfRangeError, "70 °C", with_reading(2, temperature_c=70.0)),
    (errors.TemperatureOutOfRangeError, "9 °C", with_reading(2, blank_temperature_c=9.0)),
    (errors.MassOutOfRangeError, "4.9 g", replace(GOOD, oven_dry_mass_g=4.9)),
    (errors.MassOutOfRangeError, "201 g", replace(GOOD, oven_dry_mass_g=201.0)),
    (errors.MoistureNegativeError, "-1 %", replace(GOOD, moisture_pct=-1.0)),
    (errors.DensityOutOfRangeError, "1.4 g/cm³", replace(GOOD, particle_density_g_cm3=1.4)),
    (errors.DensityOutOfRangeError, "5.1 g/cm³", replace(GOOD, particle_density_g_cm3=5.1)),
    (errors.VolumeOutOfRangeError, "1 mL", replace(GOOD, volume_ml=1.0)),
    (errors.DispersantOutOfRangeError, "51 g/L", replace(GOOD, dispersant_g_l=51.0)),
    (errors.DoubleCorrectionError, "two corrections", replace(GOOD, zero_correction_graduations=1.0)),
    (errors.DoubleCorrectionError, "two", replace(GOOD, temperature_correction=TemperatureLine(0.0, 0.2))),
    (errors.DoubleCorrectionError, "two corrections", with_readings(composite_correction_graduations=4.0)),
    (errors.TimesNotRisingError, "8 days.*1e.09 s", with_reading(8, elapsed_s=1e9)),
    (errors.GravelOutOfRangeError, "130 %", replace(GOOD, gravel_pct=130.0)),
    (errors.GravelOutOfRangeError, "-1 %", replace(GOOD, gravel_pct=-1.0)),
    (errors.InstrumentOutOfRangeError, "Meniscus.*-0.5", _stem(meniscus_correction=-0.5)),
    (errors.InstrumentOutOfRangeError, "Meniscus.*5", _stem(meniscus_correction=5.0)),
    (errors.InstrumentOutOfRangeError, "-1 cm", _stem(insertion_displacement_cm=-1.0)),
    (errors.InstrumentOutOfRangeError, "60 to 60", _stem(scale_minimum=60.0)),
    (errors.InstrumentOutOfRangeError, "16.3 cm less -0.1", _stem(depth=DepthLine(16.3, -0.16))),
    (errors.InstrumentOutOfRangeError, "151H.*0.1641 cm", _stem_151h(depth=DepthLine(16.3, 0.1641))),
    (errors.InstrumentOutOfRangeError, "151H.*-5 to 60", _stem_151h(scale_minimum=-5.0, scale_maximum=60.0)),
    (errors.InstrumentOutOfRangeError, "152H.*263 cm", _stem(depth=DepthLine(16.3, 263.0))),
    (errors.InstrumentOutOfRangeError, "0.001", _stem(depth=DepthTable((0.0, 60.0), (16.0, 15.94)))),
    (errors.InstrumentOutOfRangeError, "163 cm", _stem(depth=DepthLine(163.0, 1.6))),
    (errors.InstrumentOutOfRangeError, "1 readings", _stem(depth=DepthTable((0.0,), (16.0,)))),
    (errors.InstrumentOutOfRangeError, "2 readings, 1", _stem(depth=DepthTable((0.0, 60.0), (16.0,)))),
    (
        errors.InstrumentOutOfRangeError,
        "6 cm at 0, 16 cm at 60",
        _stem(depth=DepthTable((0.0, 60.0), (6.0, 16.0))),
    ),
    (
        errors.InstrumentOutOfRangeError,
        "readings must rise",
        _stem(depth=DepthTable((60.0, 0.0), (16.0, 6.0))),
    ),
    (errors.InstrumentOutOfRangeError, "0 and 40", _stem(depth=DepthTable((0.0, 60.0), (16.0, -6.0)))),
    (errors.SieveOrderError, "0 µm", replace(GOOD, sieving=sieved(opening_um=0.0))),
    (errors.SieveOrderError, "250 µm under 250", replace(GOOD, sieving=sieved(opening_um=250.0))),
    (
        errors.SieveMassNegativeError,
        "-1 g",
        replace(GOOD, sieving=Sieving(5.0, (SieveMass(53.0, -1.0),), 0.0)),
    ),
    (
        errors.SieveMassNegativeError,
        "pan",
        replace(GOOD, sieving=Sieving(5.0, (SieveMass(53.0, 1.0),), -0.1)),
    ),
]


@pytest.mark.parametrize(("kind", "says", "record"), CASES, ids=[f"{c[0].__name__}-{c[1]}" for c in CASES])
def test_refused(kind: type[DistributionError], says: str, record: RunRecord) -> None:
    with pytest.raises(kind, match=says) as caught:
        figures(record)
    assert caught.value.what
    assert caught.value.next_step.endswith(".")


def test_the_reading_is_named() -> None:
    with pytest.raises(DistributionError, match=r"^Reading 3: ") as caught:
        figures(with_reading(2, temperature_c=70.0))
    assert caught.value.reading_index == 2


def test_a_blank_of_exactly_one_gram_is_accepted_on_a_152h() -> None:
    assert figures(with_readings(blank_reading=1.0)).points[0].concentration_g_l == pytest.approx(39.0)


def test_too_few_draws() -> None:
    with pytest.raises(errors.DrawsTooFewError, match="99"):
        compute_distribution(GOOD, NINE, draws=99)


def test_unknown_method() -> None:
    with pytest.raises(errors.UnknownMethodError, match="hydrometer-nine-2026-4"):
        method_edition("nothing")


def test_blank_and_composite_together_are_refused_both_ways() -> None:
    record = replace(with_readings(composite_correction_graduations=4.0), correction=Correction.SEPARATE)
    with pytest.raises(errors.DoubleCorrectionError):
        figures(record)


def test_the_drawn_tree_holds_every_class_once() -> None:
    drawn = re.findall(r"\b\w+Error\b", errors.__doc__ or "")
    defined = [
        name for name, held in vars(errors).items() if isinstance(held, type) and issubclass(held, Exception)
    ]
    assert sorted(drawn) == sorted(defined)
    assert len(defined) > 20
