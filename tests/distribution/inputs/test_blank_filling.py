"""A forgotten blank: refused by default, taken from its neighbours only where the edition says so."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, log

import pytest

from particles.distribution import ReadingPoint, ReadingState, RunRecord, Severity
from particles.distribution.inputs.blank_filling import interpolated_blanks_g_l
from tests.distribution.uncertainty.test_covariance import EXACT
from tests.support.runs import NINE, figures, good_run, with_reading

FILLING = replace(NINE, interpolate_missing_blank=True)


def _without(index: int, record: RunRecord | None = None) -> RunRecord:
    return with_reading(index, record, blank_reading=None, blank_temperature_c=None)


def test_by_default_nothing_stands_in_for_a_blank() -> None:
    assert not NINE.interpolate_missing_blank
    answer = figures(_without(3))
    assert "blank_missing" in {f.code for f in answer.findings}
    assert 3 not in {p.reading_index for p in answer.points}


def test_a_steady_blank_comes_back_exactly_with_a_warning() -> None:
    answer = figures(_without(3), method=FILLING)
    (found,) = [f for f in answer.findings if f.code == "blank_interpolated"]
    assert found.severity is Severity.WARN
    assert found.number == pytest.approx(4.5)
    assert answer.certifiable
    assert [p.percent_finer for p in answer.points] == pytest.approx(
        [p.percent_finer for p in figures(good_run()).points]
    )


def test_it_is_brought_to_the_temperature_of_the_reading() -> None:
    """Method reference, section 2: 0.29 to 0.37 g/L per C between 20 and 25 C; warmer reads lower."""
    filled = interpolated_blanks_g_l(_without(3, with_reading(3, temperature_c=23.0)), FILLING)
    assert filled[3] == pytest.approx(4.5 - 0.65, abs=0.05)


def test_it_lies_between_its_neighbours_in_time() -> None:
    filled = interpolated_blanks_g_l(_without(7, with_reading(8, blank_reading=5.5)), FILLING)
    share = (7200.0 - 5400.0) / (86400.0 - 5400.0)
    assert filled[7] == pytest.approx(4.5 + share)


@pytest.mark.parametrize("index", [0, 8])
def test_first_and_last_are_never_filled(index: int) -> None:
    assert interpolated_blanks_g_l(_without(index), FILLING) == {}
    assert "blank_missing" in {f.code for f in figures(_without(index), method=FILLING).findings}


def test_a_neighbour_without_its_temperature_does_not_count() -> None:
    record = replace(
        _without(3),
        readings=tuple(
            replace(p, blank_temperature_c=None) if k > 3 else p for k, p in enumerate(_without(3).readings)
        ),
    )
    assert interpolated_blanks_g_l(record, FILLING) == {}


def test_slots_missed_out_of_their_order_do_not_matter() -> None:
    """A missed slot stands at its nominal time, a later row may have been read before it."""
    record = _without(3)
    readings = list(record.readings)
    before = figures(record, method=FILLING).fractions
    missed = ReadingPoint(
        readings[3].elapsed_s, None, state=ReadingState.MISSED, blank_reading=4.5, blank_temperature_c=21.0
    )
    readings.insert(6, missed)
    assert figures(replace(record, readings=tuple(readings)), method=FILLING).fractions == before


def test_the_slot_carries_a_wider_uncertainty() -> None:
    """
    By hand, at 2 h: clay lies between that reading and the one at 24 h, each with its weight in log diameter.

    An edition that doubts nothing but blanks: 0.35 g/L where one was read, 0.6 where not; 1 g/L is 2.5 % of 40 g.
    """
    method = replace(FILLING, dispersion_sd_pct=0.0, uncertainties=replace(EXACT, blank_reading_g_l=0.35))
    points = figures(good_run()).points
    weight = log(2.0 / points[8].diameter_um) / log(points[7].diameter_um / points[8].diameter_um)
    for index, at_2_h, at_24_h in ((None, 0.35, 0.35), (7, 0.6, 0.35), (3, 0.35, 0.35)):
        record = good_run() if index is None else _without(index)
        answer = figures(record, method=method, draws=20_000, seed=1).fractions
        assert answer is not None
        by_hand = 2.5 * hypot(weight * at_2_h, (1.0 - weight) * at_24_h)
        # Draws whose readings rise are pooled, which narrows a little.
        assert answer.clay.standard_uncertainty_pct == pytest.approx(by_hand, rel=0.06)
