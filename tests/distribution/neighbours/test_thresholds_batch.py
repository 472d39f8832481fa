"""Where the findings on neighbours in a batch begin, from both sides; the numbers are written here."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import MethodEdition, RunRecord
from particles.distribution.neighbours.batch import BatchRun, batch_findings
from tests.support.runs import EXACT_BENCH, NINE, figures, good_run, only, with_reading, with_values

CLAYEY = (40.0, 39.0, 38.0, 37.0, 36.0, 35.0, 34.5, 34.0, 30.0)
SANDY = (20.0, 15.0, 12.0, 10.0, 9.0, 8.0, 7.5, 7.0, 6.0)


def _codes(*records: RunRecord, method: MethodEdition = NINE) -> set[str]:
    runs = [BatchRun(record, figures(record, method=method)) for record in records]
    return {found.finding.code for found in batch_findings(runs, method)}


def _on_blank(blank: float) -> RunRecord:
    run = with_values(*SANDY)
    return replace(run, readings=tuple(replace(point, blank_reading=blank) for point in run.readings))


@pytest.mark.parametrize(
    ("blank", "method", "said"),
    [(5.03, NINE, False), (5.06, NINE, True), (4.99, EXACT_BENCH, False), (5.02, EXACT_BENCH, True)],
)
def test_a_blank_off_that_of_the_batch(blank: float, method: MethodEdition, said: bool) -> None:
    """3.9 × 0.333 √(1.57/9) = 0.54 g/L, or 0.5 g/L where reading is better than that."""
    others = (good_run(), with_values(*CLAYEY))
    assert ("blank_apart_from_batch" in _codes(*others, _on_blank(blank), method=method)) is said


@pytest.mark.parametrize(("at_c", "said"), [(22.0, False), (22.1, True), (20.0, False), (19.9, True)])
def test_a_cylinder_off_the_temperature_of_its_neighbours(at_c: float, said: bool) -> None:
    odd = with_reading(4, with_values(*SANDY), temperature_c=at_c)
    assert ("temperature_apart_from_batch" in _codes(good_run(), with_values(*CLAYEY), odd)) is said


@pytest.mark.parametrize(("low_g_l", "said"), [(2.15, False), (2.20, True)])
def test_a_slot_at_which_all_runs_rise(low_g_l: float, said: bool) -> None:
    """4 × 0.333 √(2 × (1 + 1/3)) = 2.17 g/L."""
    low = with_reading(7, with_values(*[20.0] * 9), blank_reading=4.5 - low_g_l)
    assert ("slot_rises_in_batch" in _codes(low, low, low)) is said


@pytest.mark.parametrize(
    ("odd", "code"),
    [
        (_on_blank(6.0), "blank_apart_from_batch"),
        (with_reading(4, with_values(*SANDY), temperature_c=23.0), "temperature_apart_from_batch"),
    ],
)
def test_three_runs_are_the_fewest_with_a_middle(odd: RunRecord, code: str) -> None:
    assert code not in _codes(with_values(*CLAYEY), odd)
    assert code in _codes(good_run(), with_values(*CLAYEY), odd)


def test_three_runs_are_the_fewest_that_rise_together() -> None:
    low = with_reading(7, with_values(*[20.0] * 9), blank_reading=0.5)
    assert "slot_rises_in_batch" not in _codes(low, low)
    assert "slot_rises_in_batch" in _codes(low, low, low)


def test_four_readings_are_the_fewest_that_were_copied() -> None:
    for count, said in ((3, False), (4, True)):
        short = only(good_run(), *range(count))
        assert ("readings_copied" in _codes(short, short)) is said


def test_readings_that_hardly_fall_are_no_copy() -> None:
    for fall_g_l, said in ((2.9, False), (3.1, True)):
        record = with_values(*[20.0] * 8, 20.0 - fall_g_l)
        assert ("readings_copied" in _codes(record, record)) is said
