"""Exchanges that the readings of neighbours show by themselves, one by one and over planted batches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from particles.distribution import BatchFinding, BatchRun, RunRecord, Severity
from particles.distribution.causes.exchanges import exchanges_by_readings
from tests.support.caused import CLAYEY, SANDY
from tests.support.planted_batch_faults import row_slip
from tests.support.runs import NINE, figures, good_run, with_values
from tests.support.simulator import clean_batch


def _found(*records: RunRecord) -> list[BatchFinding]:
    named = [replace(record, label=f"cylinder {k + 1}") for k, record in enumerate(records)]
    return exchanges_by_readings([BatchRun(record, figures(record)) for record in named], NINE)


def test_soils_in_their_own_rows_show_no_exchange() -> None:
    assert _found(good_run(), with_values(*CLAYEY), with_values(*SANDY)) == []
    assert _found() == []


def test_readings_in_each_others_row_name_pair_slot_and_odds() -> None:
    mine, theirs = (*CLAYEY[:6], *SANDY[6:]), (*SANDY[:6], *CLAYEY[6:])
    (found,) = _found(good_run(), with_values(*mine), with_values(*theirs))
    assert found.labels == ("cylinder 2", "cylinder 3")
    assert found.finding.code == "runs_exchanged"
    assert found.finding.severity is Severity.WARN
    assert found.finding.reading_index == 6
    assert found.finding.number is not None
    assert found.finding.number > 1.0
    assert "their readings from 90 min on" in found.finding.sentence


def test_one_reading_exchanged_is_told_from_a_slip() -> None:
    mine = (*CLAYEY[:4], SANDY[4], *CLAYEY[5:])
    theirs = (*SANDY[:4], CLAYEY[4], *SANDY[5:])
    (found,) = _found(with_values(*mine), with_values(*theirs))
    assert found.finding.reading_index == 4
    assert "their readings at 30 min" in found.finding.sentence


def test_runs_that_are_no_neighbours_are_left_to_the_review() -> None:
    mine, theirs = (*CLAYEY[:6], *SANDY[6:]), (*SANDY[:6], *CLAYEY[6:])
    between = with_values(*(12.0,) * 9)
    assert _found(with_values(*mine), between, with_values(*theirs)) == []


def test_a_run_without_points_is_exchanged_with_nothing() -> None:
    assert _found(replace(good_run(), oven_dry_mass_g=None), with_values(*SANDY)) == []


@pytest.mark.parametrize("copied", [good_run(), with_values(*CLAYEY)])
def test_two_equal_columns_are_no_exchange(copied: RunRecord) -> None:
    assert _found(copied, copied) == []


def test_a_slip_is_placed_where_it_was_made() -> None:
    random, right, seen = np.random.default_rng(11), 0, 0
    for _ in range(80):
        clean = clean_batch(random, 4)
        runs, size = row_slip(clean, random)
        moved = [run.record.label for run, was in zip(runs, clean, strict=True) if run.record != was.record]
        if size < 4.0 or len(moved) < 2:
            continue
        batch = [BatchRun(run.record, figures(run.record, method=run.method)) for run in runs]
        seen += 1
        right += [each.labels for each in exchanges_by_readings(batch, runs[0].method)] == [tuple(moved)]
    assert seen > 20
    assert right > 0.9 * seen
