"""What holds for every run."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from particles.distribution import RunRecord
from tests.support.runs import NINE, figures, good_run, sieved

steps = st.lists(st.floats(-0.4, 5.0), min_size=8, max_size=8)


@st.composite
def runs(draw: st.DrawFn) -> RunRecord:
    """Nine readings that mostly fall, at one temperature, over a plausible blank."""
    reading, values = draw(st.floats(25.0, 45.0)), []
    for step in [0.0, *draw(steps)]:
        reading = max(reading - step, 6.0)
        values.append(round(reading, 1))
    temperature_c, blank = draw(st.floats(15.0, 28.0)), draw(st.floats(2.0, 5.5))
    record = good_run(
        oven_dry_mass_g=draw(st.floats(45.0, 60.0)), particle_density_g_cm3=draw(st.floats(2.45, 2.9))
    )
    readings = tuple(
        replace(
            point,
            reading=value,
            temperature_c=temperature_c,
            blank_reading=blank,
            blank_temperature_c=temperature_c,
        )
        for point, value in zip(record.readings, values, strict=True)
    )
    return replace(record, readings=readings)


@given(runs())
def test_percent_finer_never_rises_as_size_falls(record: RunRecord) -> None:
    curve = figures(record).curve
    sizes = [point.diameter_um for point in curve]
    percents = [point.percent_finer for point in curve]
    assert sizes == sorted(sizes, reverse=True)
    assert all(fine <= coarse for coarse, fine in pairwise(percents))


@given(runs(), st.booleans())
def test_fractions_total_100(record: RunRecord, with_sieves: bool) -> None:
    answer = figures(replace(record, sieving=sieved()) if with_sieves else record)
    assert answer.fractions is not None
    parts = (answer.fractions.clay, answer.fractions.silt, answer.fractions.sand)
    assert sum(part.value_pct for part in parts) == pytest.approx(100.0, abs=1e-9)


@given(runs(), st.floats(0.2, 4.0))
def test_colder_water_means_larger_grains(record: RunRecord, colder_c: float) -> None:
    cold = replace(
        record,
        readings=tuple(
            replace(
                point,
                temperature_c=point.temperature_c - colder_c,
                blank_temperature_c=point.temperature_c - colder_c,
            )
            for point in record.readings
        ),
    )
    assert len(figures(cold).points) == 9
    for here, there in zip(figures(record).points, figures(cold).points, strict=True):
        assert there.diameter_um > here.diameter_um
        assert there.percent_finer == pytest.approx(here.percent_finer, rel=1e-12)


@given(runs(), st.floats(0.6, 1.25))
def test_mass_and_readings_scaled_together_leave_percent(record: RunRecord, factor: float) -> None:
    assert record.oven_dry_mass_g is not None
    scaled = replace(
        record,
        oven_dry_mass_g=record.oven_dry_mass_g * factor,
        readings=tuple(
            replace(point, reading=point.reading * factor, blank_reading=point.blank_reading * factor)
            for point in record.readings
            if point.reading is not None
            if point.blank_reading is not None
        ),
    )
    for here, there in zip(figures(record).points, figures(scaled).points, strict=True):
        assert there.percent_finer == pytest.approx(here.percent_finer, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(runs())
def test_the_value_lies_inside_its_interval(record: RunRecord) -> None:
    answer = figures(record, method=NINE, draws=1000)
    assert answer.fractions is not None
    for part in (answer.fractions.clay, answer.fractions.silt, answer.fractions.sand):
        assert part.low_pct is not None
        assert part.high_pct is not None
        assert part.low_pct < part.value_pct < part.high_pct
