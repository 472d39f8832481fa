"""A cylinder stirred again: a new zero, with what was read before void and kept."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.bench.rules import time_zero
from batches.computing.record import gather
from batches.models import Reading, Replunge

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def again(send_entry: Any) -> Any:
    """Stir a cylinder again, an hour after its start unless told otherwise."""

    def stir(run: Any, **other: Any) -> Any:
        at = other.pop("at", None) or time_zero(run) + timedelta(hours=1)
        typed = {
            "run": run.pk,
            "started_at": at.isoformat(timespec="milliseconds"),
            "voids": 0,
            "source": "tablet",
            "reason": "The 30 s reading was missed.",
        }
        by = other.pop("by", None)
        return send_entry("replunge", {k: str(v) for k, v in (typed | other).items()}, by=by)

    return stir


def test_earlier_readings_are_void_and_kept_and_later_ones_count_from_the_new_zero(
    running: Any, send_entry: Any, a_reading: Any, again: Any, as_person: Any, technician: Any
) -> None:
    send_entry("reading", a_reading(running))
    first = time_zero(running)
    assert again(running, voids=1).status_code == 201
    assert send_entry("reading", a_reading(running, reading="27.0")).status_code == 201
    kept = Reading.objects.order_by("pk")
    assert [(str(r.reading), r.attempt, r.replunge_id is None) for r in kept] == [
        ("26.5000", 1, True),
        ("27.0000", 1, False),
    ]
    apart = kept[1].taken_at - (first + timedelta(hours=1, seconds=30.4))
    assert abs(apart) < timedelta(milliseconds=2)
    assert [point.reading for point in gather(running).readings] == [27.0]
    page = as_person(technician).get(f"/runs/{running.pk}/").content.decode()
    assert "void, stirred again" in page
    assert "The 30 s reading was missed." in page
    told = as_person(technician).get(f"/batches/{running.batch.number}/bench/state/").json()["batches"][0]
    own = next(run for run in told["runs"] if run["pk"] == running.pk)
    assert (own["stirred_again"], own["readings"]["30"]["reading"]) == (1, "27")


def test_it_says_how_many_readings_become_void(
    running: Any, send_entry: Any, a_reading: Any, again: Any
) -> None:
    send_entry("reading", a_reading(running))
    answer = again(running, voids=0)
    assert answer.status_code == 409
    assert "1 readings of cylinder C02 would become void, not 0" in answer.json()["sentence"]
    assert not Replunge.objects.exists()


def test_a_time_counted_from_the_old_zero_is_refused(
    running: Any, send_entry: Any, a_reading: Any, again: Any
) -> None:
    old = time_zero(running)
    again(running)
    answer = send_entry("reading", a_reading(running, counted_from=old.isoformat()))
    assert answer.status_code == 409
    assert "counts from" in answer.json()["sentence"]
    new = old + timedelta(hours=1)
    assert send_entry("reading", a_reading(running, counted_from=new.isoformat())).status_code == 201


@pytest.mark.parametrize(
    ("typed", "status", "words"),
    [
        ({"reason": ""}, 422, "Nothing was typed here"),
        ({"voids": "-1"}, 422, "Readings that become void"),
        ({"started_at": "yesterday"}, 422, "not a date and time"),
    ],
)
def test_what_cannot_be_read(
    running: Any, again: Any, typed: dict[str, str], status: int, words: str
) -> None:
    answer = again(running, **typed)
    assert answer.status_code == status
    assert words in answer.json()["sentence"]


def test_not_before_the_start_nor_in_the_future_nor_before_a_later_reading(
    running: Any, send_entry: Any, a_reading: Any, again: Any
) -> None:
    early = again(running, at=time_zero(running) - timedelta(seconds=1))
    future = again(running, at=timezone.now() + timedelta(minutes=5))
    send_entry("reading", a_reading(running, slot_s=5400, elapsed_s="5400"))
    between = again(running, voids=1)
    assert (early.status_code, future.status_code, between.status_code) == (409, 409, 409)
    assert "counts from" in early.json()["sentence"]
    assert "after the laboratory's clock" in future.json()["sentence"]
    assert "was taken after this stirring" in between.json()["sentence"]


def test_not_a_cylinder_that_never_started(filled_batch: Any, running: Any, again: Any) -> None:
    answer = again(filled_batch.blank, at=timezone.now())
    assert answer.status_code == 409
    assert "has not been started" in answer.json()["sentence"]


def test_not_once_every_slot_is_filled(running: Any, send_entry: Any, a_reading: Any, again: Any) -> None:
    for slot_s in (30, 60, 5400, 86400):
        send_entry("reading", a_reading(running, slot_s=slot_s, elapsed_s=slot_s, reading="20"))
    answer = again(running, at=timezone.now(), voids=4)
    assert answer.status_code == 409
    assert "repeat the sample with a new portion" in answer.json()["sentence"]


def test_whoever_stirred_again_does_not_approve(running: Any, again: Any, qa_officer: Any) -> None:
    assert again(running, by=qa_officer).status_code == 403
    again(running)
    assert Replunge.objects.get().by_id in running.batch.workers()


def test_a_second_stirring_counts_on(running: Any, again: Any) -> None:
    again(running)
    assert again(running, at=time_zero(running) + timedelta(hours=2)).status_code == 201
    assert list(Replunge.objects.values_list("turn", flat=True)) == [2, 3]
