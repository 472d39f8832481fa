"""Points of a batch that is re-opened stay on their charts as open; what was put right moves them; each is answered."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from batches.exchanging import rules as putting_right
from batches.limits.judging import Point
from batches.limits.keys import ChartKey, Quantity
from batches.limits.points import blank_level_g_l, blank_points, duplicate_points
from batches.limits.rules import answer_point, chart_of, enter_limits
from batches.models import Batch
from batches.nonconforming.rules import reopen
from batches.quality.judged_batch import Severity
from batches.quality.verdict import verdict_of
from batches.review import rules as approval
from particles.models import MethodEditionRecord
from particles.records.refusals import NotPossible
from tests.batches.review.test_sign_everything_shown import sign
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import BECAME, settle

pytestmark = pytest.mark.django_db(transaction=True)
FOUND = "The bags of both samples were poured into each other's cylinder."
SWAPPED = "The blank and the first sample stood in each other's place; the photograph shows it."


@pytest.fixture
def pair(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Batch:
    """A sample with its duplicate, read, computed and handed over."""
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    work_off()
    approval.submit(batch, by=technician, at=timezone.now())
    return Batch.objects.get(pk=batch.pk)


@pytest.fixture
def signed(pair: Batch, qa_officer: Any) -> Batch:
    settle(pair, qa_officer)
    approval.approve(pair, by=qa_officer, at=timezone.now(), secret=SECRET)
    return Batch.objects.get(pk=pair.pk)


def points_of(batch: Batch) -> list[Point]:
    """The newest point of the blank's level, of the room and of both charts of the pair."""
    root = MethodEditionRecord.roots()[batch.method_id]
    found = blank_points() | duplicate_points(batch.method, root)
    keys = [ChartKey(Quantity.BLANK_LEVEL, batch.lot_id), ChartKey(Quantity.TEMPERATURE)]
    keys += [ChartKey(each, 0, root) for each in (Quantity.DUPLICATES_SAND, Quantity.DUPLICATES_CLAY)]
    return [found[key][-1] for key in keys]


def test_a_re_opened_batch_stays_on_its_charts_as_open_and_serves_no_limits_until_it_is_settled(
    signed: Batch, qa_officer: Any, second_officer: Any, as_person: Any
) -> None:
    before = points_of(signed)
    assert [each.questioned for each in before] == ["", "", "", ""]
    reopen(signed, found=FOUND, found_by="the client", by=second_officer, at=timezone.now())
    batch = Batch.objects.get(pk=signed.pk)
    [level, *_] = [line for line in verdict_of(batch).lines if line.about == "blank"]
    assert "Level at 20 °C" in level.sentence, "its blank was read, and the verdict says so"
    day = f"{timezone.localdate():%-d %b %Y}"
    opened = points_of(batch)
    assert [each.value for each in opened] == [each.value for each in before]
    assert {each.questioned for each in opened} == {f"its batch was re-opened on {day}"}
    for quantity in (Quantity.BLANK_LEVEL, Quantity.DUPLICATES_CLAY):
        key = ChartKey(Quantity.BLANK_LEVEL, batch.lot_id)
        if quantity is Quantity.DUPLICATES_CLAY:
            key = ChartKey(quantity, 0, MethodEditionRecord.roots()[batch.method_id])
        chart = chart_of(key, timezone.now())
        assert [each.counts for each in chart.judged] == [False]
        assert "1 point belongs to a batch that is re-opened" in str(chart.proposal)
        page = as_person(qa_officer).get(f"/quality/charts/{key.address}/").content.decode()
        assert f"open again: its batch was re-opened on {day}" in page
    settle(batch, qa_officer)
    sign(Batch.objects.get(pk=batch.pk), qa_officer, what_became=BECAME)
    assert points_of(Batch.objects.get(pk=batch.pk)) == before, "signed anew unchanged it is as it was"


def test_one_that_is_returned_after_it_was_re_opened_is_not_settled(
    signed: Batch, qa_officer: Any, second_officer: Any
) -> None:
    reopen(signed, found=FOUND, found_by="an audit", by=second_officer, at=timezone.now())
    batch = Batch.objects.get(pk=signed.pk)
    approval.return_to_bench(batch, by=qa_officer, at=timezone.now(), reason="Look at the cylinders again.")
    assert all(each.questioned for each in points_of(Batch.objects.get(pk=batch.pk)))
    approval.reject(
        Batch.objects.get(pk=batch.pk),
        by=qa_officer,
        at=timezone.now(),
        reason="The bags cannot be told apart.",
    )
    level, *_ = blank_points()[ChartKey(Quantity.BLANK_LEVEL, batch.lot_id)]
    assert level.questioned == ""


def test_the_level_of_a_blank_is_that_of_the_readings_that_count_for_it(pair: Batch, qa_officer: Any) -> None:
    """A blank is never given a soil's readings, and its readings that are left out count for nothing."""
    key = ChartKey(Quantity.BLANK_LEVEL, pair.lot_id)
    [before] = blank_points()[key]
    first = pair.sample_runs.order_by("position").first()
    assert first is not None
    with pytest.raises(NotPossible, match="and a blank does not settle"):
        putting_right.exchange(pair.blank, first, reason=SWAPPED, by=qa_officer, at=timezone.now())
    assert blank_points()[key] == [before]
    slots = [int(s) for s in pair.method.edition.schedule_s]
    why = "Foam stood at the stem, as the card says."
    putting_right.leave_out(pair.blank, slots[:-1], reason=why, by=qa_officer, at=timezone.now())
    [left] = blank_points()[key]
    last = pair.blank.readings.get(slot_s=slots[-1])
    temperature_c = float(last.temperature_c) + float(pair.thermometer.correction_c)
    alone = blank_level_g_l(pair.hydrometer.as_measured(), [(float(last.reading), temperature_c)])
    assert left.value == pytest.approx(alone)


def test_an_answer_lifts_what_it_answers_and_nothing_beside_it(
    pair: Batch, qa_officer: Any, manager: Any, bench: Any
) -> None:
    """Both charts of a pair stop the batch; an answer on one leaves the stop of the other."""
    at = timezone.now()
    root = MethodEditionRecord.roots()[pair.method_id]
    duplicate = next(run for run in pair.sample_runs if run.is_duplicate)
    sand, clay = (ChartKey(each, 0, root) for each in (Quantity.DUPLICATES_SAND, Quantity.DUPLICATES_CLAY))
    long_ago = at - timedelta(days=9)
    for key in (sand, clay):
        enter_limits(key, sd=Decimal("0.01"), in_force_from=long_ago, seen=0, by=manager, at=long_ago,
                     document="Runs of 2025 (invented)", reason="The limits of the first year.")  # fmt: skip
    assert [len(chart_of(key, at).waiting) for key in (sand, clay)] == [0, 0], "not signed yet"
    [both] = verdict_of(pair).stops
    assert "sand" in both.sentence
    assert "clay" in both.sentence
    words = "The sieve of the duplicate was torn; the sand of it is too low."
    answer_point(Quantity.DUPLICATES_SAND, duplicate, counts=False, reason=words, by=qa_officer, at=at)
    [left] = verdict_of(pair).stops
    assert left.severity is Severity.STOP
    assert "clay" in left.sentence
    assert words not in left.sentence
    answer_point(Quantity.DUPLICATES_CLAY, duplicate, counts=True, reason=words, by=qa_officer, at=at)
    assert verdict_of(pair).stops == ()
