"""Findings that need the neighbours, one by one and over planted batches."""

from __future__ import annotations

from dataclasses import replace

import pytest

from particles.distribution import RunRecord
from particles.distribution.neighbours.batch import BatchRun, batch_findings
from tests.support.planted_batch_faults import (
    BATCH_FAULTS,
    BatchFault,
    batch_detection,
    batch_false_alarms,
)
from tests.support.runs import NINE, figures, good_run, with_reading, with_values

CLAYEY = (40.0, 39.0, 38.0, 37.0, 36.0, 35.0, 34.5, 34.0, 30.0)
SANDY = (20.0, 15.0, 12.0, 10.0, 9.0, 8.0, 7.5, 7.0, 6.0)


def _batch(*records: RunRecord) -> list[BatchRun]:
    named = [replace(record, label=f"cylinder {k + 1}") for k, record in enumerate(records)]
    return [BatchRun(record, figures(record)) for record in named]


def _codes(*records: RunRecord) -> list[tuple[str, tuple[str, ...]]]:
    return [(found.finding.code, found.labels) for found in batch_findings(_batch(*records), NINE)]


def test_a_clean_batch_raises_nothing() -> None:
    assert _codes(good_run(), with_values(*CLAYEY), with_values(*SANDY)) == []


def test_a_copied_column() -> None:
    assert _codes(good_run(), good_run()) == [("readings_copied", ("cylinder 1", "cylinder 2"))]


def test_clear_water_in_two_cylinders_is_no_copy() -> None:
    flat = with_values(*(4.5,) * 9)
    assert _codes(flat, flat) == []


def test_a_blank_apart_from_that_of_the_batch() -> None:
    other = replace(
        with_values(*SANDY),
        readings=tuple(replace(p, blank_reading=5.5) for p in with_values(*SANDY).readings),
    )
    assert _codes(good_run(), with_values(*CLAYEY), other) == [("blank_apart_from_batch", ("cylinder 3",))]


def test_one_temperature_off_its_neighbours() -> None:
    warm = with_reading(4, with_values(*SANDY), temperature_c=22.5)
    assert _codes(good_run(), with_values(*CLAYEY), warm) == [
        ("temperature_apart_from_batch", ("cylinder 3",))
    ]


def test_all_runs_rise_where_their_blank_was_read_too_low() -> None:
    low = [
        with_reading(7, record, blank_reading=0.5)
        for record in (good_run(), with_values(*CLAYEY), with_values(*SANDY))
    ]
    assert [code for code, _ in _codes(*low)] == ["slot_rises_in_batch"]


def test_runs_without_points_are_left_alone() -> None:
    nothing = replace(good_run(), oven_dry_mass_g=None)
    assert _codes(nothing, with_values(*SANDY)) == []
    assert batch_findings([], NINE) == []


@pytest.mark.parametrize("fault", BATCH_FAULTS, ids=lambda fault: fault.name)
def test_planted_batch_faults_are_caught(fault: BatchFault) -> None:
    large = [hit for size, hit in batch_detection(fault, 200) if size >= fault.sure_from]
    assert len(large) >= 20
    assert sum(large) > 0.95 * len(large)


def test_clean_batches_raise_few_alarms() -> None:
    assert all(share < 0.5 for share in batch_false_alarms(300).values())


def test_a_blank_that_all_runs_share_does_not_average_out() -> None:
    """Its noise alone lifts a slot of many flat runs by 1 g/L once in a while; the runs' own noise would not."""
    lifted, wrong = (
        with_reading(4, with_values(*[20.0] * 9), blank_reading=4.5 - low_g_l) for low_g_l in (1.0, 3.0)
    )
    codes, of_a_wrong_one = ({code for code, _ in _codes(*[record] * 20)} for record in (lifted, wrong))
    assert "slot_rises_in_batch" not in codes
    assert "slot_rises_in_batch" in of_a_wrong_one
