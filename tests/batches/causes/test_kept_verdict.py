"""A kept verdict is shown only while all it stands on is as it was: what changes shows on the next page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from batches.causes.standing import standing_of
from batches.limits.keys import ChartKey, Quantity
from batches.limits.rules import answer_point, enter_limits
from batches.models import Batch, CauseList
from batches.planning.four_eyes import people_in
from batches.planning.freshness import done_in
from batches.quality import verdict as quality
from batches.quality.judged_batch import Verdict
from batches.review import rules as review_rules
from batches.review.examination import examine
from batches.review.verdict import verdict_of
from particles.models import Laboratory
from particles.records.act import Side
from tests.support.full_batch import full_batch

pytestmark = pytest.mark.django_db(transaction=True)
SOILS = ("loam", "silt loam")
LONG_AGO = timedelta(days=9)


@pytest.fixture
def handed_over(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Callable[[], int]
) -> Callable[[], Batch]:
    def made() -> Batch:
        batch = full_batch(the_client, clerk, technician, bench, soils=SOILS)
        work_off()
        review_rules.submit(batch, by=technician, at=timezone.now())
        batch.refresh_from_db()
        return batch

    return made


def live(batch: Batch) -> Verdict:
    fresh = Batch.objects.get(pk=batch.pk)
    return verdict_of(fresh, examine(fresh))


def standing(batch: Batch) -> str:
    fresh = Batch.objects.get(pk=batch.pk)
    return standing_of(fresh, examine(fresh), done_in(fresh))


@pytest.fixture
def shown(as_person: Any, qa_officer: Any) -> Callable[[Batch], Verdict]:
    """The verdict as the page shows it."""
    client = as_person(qa_officer)
    return lambda batch: Verdict(
        tuple(line for line, _ in client.get(f"/review/{batch.number}/").context["verdict"])
    )


def test_a_verdict_is_judged_at_the_hand_over_and_not_again_by_a_page(
    handed_over: Any, shown: Any, qa_officer: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = handed_over()
    at_hand_over = live(batch)

    def judged_again(_: Batch) -> None:
        pytest.fail("a page judged what nothing has changed")

    monkeypatch.setattr(quality, "verdict_of", judged_again)
    assert shown(batch) == shown(batch) == at_hand_over
    monkeypatch.undo()
    review_rules.look_at_quality(batch, note="Looked at every line of it.", by=qa_officer, at=timezone.now())
    monkeypatch.setattr(quality, "verdict_of", judged_again)
    assert shown(batch) == at_hand_over, "a reviewer's word changes nothing it stands on"
    assert CauseList.objects.count() == 1


def test_a_new_version_of_limits_and_an_answered_point_show_at_once(
    handed_over: Any, shown: Any, manager: Any, qa_officer: Any
) -> None:
    batch = handed_over()
    before, at = shown(batch), timezone.now() - LONG_AGO
    enter_limits(
        ChartKey(Quantity.BLANK_LEVEL, batch.lot_id), centre=Decimal("30"), sd=Decimal("0.2"), by=manager,
        at=at, in_force_from=at, seen=0, document="Runs of 2025 (invented)", reason="The first year's limits.",
    )  # fmt: skip
    beyond = shown(batch)
    assert beyond == live(batch) != before
    [line] = [line for line in beyond.lines if line.name == "Blank"]
    assert not line.passed
    assert "one point beyond 3 standard deviations" in line.sentence
    words = "The first year's limits were of another lot."
    answer_point(
        Quantity.BLANK_LEVEL, batch.blank, counts=False, reason=words, by=qa_officer, at=timezone.now()
    )
    [line] = [line for line in shown(batch).lines if line.name == "Blank"]
    assert f"Answered by {qa_officer}: {words}" in line.sentence
    assert shown(batch) == live(batch)
    type(qa_officer).objects.filter(pk=qa_officer.pk).update(last_name="Renamed")
    assert "Renamed" in shown(batch).in_words, "also who answered, by the name of today"


def overdue(batch: Batch, _: Any) -> None:
    kind = type(batch.hydrometer)
    kind.objects.filter(pk=batch.hydrometer_id).update(due_on=timezone.localdate() - timedelta(days=20))


def more_duplicates(*_: Any) -> None:
    Laboratory.objects.update_or_create(pk=1, defaults={"samples_per_duplicate": 1})


def renamed(_: Batch, technician: Any) -> None:
    type(technician).objects.filter(pk=technician.pk).update(last_name="Renamed")


@pytest.mark.parametrize("change", [overdue, more_duplicates, renamed])
def test_what_a_line_stands_on_beside_the_records_shows_at_once(
    handed_over: Any, shown: Any, technician: Any, change: Callable[[Batch, Any], None]
) -> None:
    batch = handed_over()
    before = shown(batch)
    change(batch, technician)
    assert shown(batch) == live(batch) != before


def test_a_verdict_stands_on_the_blanks_of_the_batches_before_it(
    the_client: Any, clerk: Any, technician: Any, bench: Any, handed_over: Any, work_off: Any
) -> None:
    earlier = full_batch(the_client, clerk, technician, bench, soils=SOILS)
    work_off()
    batch = handed_over()
    alone = standing(batch)
    review_rules.submit(earlier, by=technician, at=timezone.now())
    assert standing(batch) != alone
    later = handed_over()
    with_earlier = standing(batch)
    assert later.soak_started_at is not None
    assert standing(batch) == with_earlier, "what was soaked later is no part of it"


def test_who_worked_in_a_batch_is_counted_as_the_rule_has_it(handed_over: Any) -> None:
    batch = handed_over()
    done = done_in(batch)
    assert done.workers == people_in(batch, Side.BENCH)
    assert set(done.people) >= done.workers
