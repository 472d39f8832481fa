"""One reading, sent by a tablet."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from django.utils import timezone

from batches.bench.rules import time_zero
from batches.models import Entry, Reading
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def second_technician() -> Any:
    return get_user_model().objects.create(username="tilda", first_name="Tilda", roles=["technician"])


def test_a_reading_is_kept_with_its_true_time(running: Any, send_entry: Any, a_reading: Any) -> None:
    answer = send_entry("reading", a_reading(running))
    assert answer.status_code == 201
    assert answer.json()["stored"] is True
    reading = Reading.objects.get()
    assert (reading.reading, reading.elapsed_s) == (Decimal("26.5"), Decimal("30.4"))
    assert reading.taken_at == time_zero(running) + timedelta(seconds=30.4)


def test_sending_it_twice_keeps_it_once(running: Any, send_entry: Any, a_reading: Any) -> None:
    name = uuid4()
    first = send_entry("reading", a_reading(running), entry_id=name)
    second = send_entry("reading", a_reading(running), entry_id=name)
    assert (first.status_code, second.status_code) == (201, 200)
    assert second.json()["repeated"] is True
    assert Reading.objects.count() == 1


def test_the_same_name_with_other_content_is_kept_and_refused(
    running: Any, send_entry: Any, a_reading: Any
) -> None:
    name = uuid4()
    send_entry("reading", a_reading(running), entry_id=name)
    answer = send_entry("reading", a_reading(running, reading="28.0"), entry_id=name)
    assert answer.status_code == 409
    assert "other content" in answer.json()["sentence"]
    assert Entry.objects.filter(entry_id=name).count() == 2
    assert Reading.objects.get().reading == Decimal("26.5")


@pytest.mark.parametrize(
    ("typed", "status", "words"),
    [
        ({"reading": "26,5"}, 422, "comma"),
        ({"reading": "twenty"}, 422, "not a number"),
        ({"reading": ""}, 422, "Type the reading"),
        ({"elapsed_s": ""}, 422, "elapsed time"),
        ({"elapsed_s": "0"}, 422, "above 0 s"),
        ({"elapsed_s": "30.44"}, 422, "tenth of a second"),
        ({"elapsed_s": "half a minute"}, 422, "not a time"),
        ({"temperature_c": ""}, 422, "Type the temperature"),
        ({"state": "missed"}, 422, "Say why"),
        ({"temperature_c": "68"}, 409, "Fahrenheit"),
        ({"temperature_c": "2.1"}, 409, "lies outside"),
        ({"reading": "61"}, 409, "above scale"),
        ({"reading": "1.0215"}, 409, "relative density"),
        ({"reading": "0.990"}, 409, "relative density"),
        ({"reading": "1.060"}, 409, "relative density"),
        ({"slot_s": "45"}, 409, "not a time of"),
        ({"elapsed_s": "72:00:00"}, 409, "after the laboratory's clock"),
    ],
)
def test_what_cannot_be_true_is_kept_and_refused_in_words(
    running: Any, send_entry: Any, a_reading: Any, typed: dict[str, str], status: int, words: str
) -> None:
    answer = send_entry("reading", a_reading(running, **typed))
    assert answer.status_code == status
    assert words in answer.json()["sentence"]
    assert not Reading.objects.exists()
    kept = Entry.objects.get(kind="reading")
    assert kept.content[next(iter(typed))] == next(iter(typed.values()))
    assert kept.verdict.outcome == "refused"


@pytest.mark.parametrize("typed", ["0.985", "1.065", "1.02"])
def test_what_no_151h_shows_is_a_reading_in_g_l(
    running: Any, send_entry: Any, a_reading: Any, typed: str
) -> None:
    """Beyond 0.99 to 1.06, or with fewer decimals than that stem is read to."""
    assert send_entry("reading", a_reading(running, reading=typed)).status_code == 201
    assert Reading.objects.get().reading == Decimal(typed)


def test_above_the_scale_is_no_number(running: Any, send_entry: Any, a_reading: Any) -> None:
    answer = send_entry("reading", a_reading(running, state="above scale", reading=""))
    assert answer.status_code == 201
    assert Reading.objects.get().reading is None


def test_a_missed_slot_carries_its_reason(running: Any, send_entry: Any, a_reading: Any) -> None:
    answer = send_entry("reading", a_reading(running, state="missed", reading="", reason="The phone rang."))
    assert answer.status_code == 201
    reading = Reading.objects.get()
    assert (reading.state, reading.elapsed_s, reading.reason) == ("missed", None, "The phone rang.")


def test_two_technicians_cannot_both_fill_a_slot(running: Any, send_entry: Any, a_reading: Any) -> None:
    tilda = second_technician()
    send_entry("reading", a_reading(running))
    seconds_later = send_entry("reading", a_reading(running, reading="27.5", elapsed_s="33"), by=tilda)
    assert seconds_later.status_code == 201
    assert "that of Tomas Example, 26.5, came first and counts" in seconds_later.json()["sentence"]
    minutes_later = send_entry("reading", a_reading(running, reading="27.5", elapsed_s="55"), by=tilda)
    assert minutes_later.status_code == 409
    assert "26.5, by Tomas Example" in minutes_later.json()["sentence"]
    assert (Reading.objects.count(), Entry.objects.filter(kind="reading").count()) == (1, 3)


def test_a_correction_says_why_and_both_stay(running: Any, send_entry: Any, a_reading: Any) -> None:
    send_entry("reading", a_reading(running))
    answer = send_entry("reading", a_reading(running, reading="25.6", reason="Digits transposed."))
    assert answer.status_code == 201
    values = Reading.objects.values_list("attempt", "reading")
    assert list(values) == [(1, Decimal("26.5")), (2, Decimal("25.6"))]


def test_a_cylinder_that_was_not_started_is_not_read(
    running: Any, filled_batch: Any, send_entry: Any, a_reading: Any
) -> None:
    answer = send_entry("reading", a_reading(filled_batch.blank))
    assert answer.status_code == 409
    assert "has not been started" in answer.json()["sentence"]


def test_a_submitted_batch_takes_no_reading(submitted_batch: Any, send_entry: Any, a_reading: Any) -> None:
    run = submitted_batch.sample_runs.get()
    answer = send_entry("reading", a_reading(run, reason="too late"))
    assert answer.status_code == 409
    assert "no readings are taken now" in answer.json()["sentence"]


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "custodian", "client_person"])
def test_only_who_may_read_sends_readings(
    running: Any, send_entry: Any, a_reading: Any, request: pytest.FixtureRequest, person: str
) -> None:
    answer = send_entry("reading", a_reading(running), by=request.getfixturevalue(person))
    assert answer.status_code == 403
    assert not Entry.objects.filter(kind="reading").exists()


def test_nobody_sends_without_a_log_in_or_without_the_token(
    running: Any, technician: Any, a_reading: Any
) -> None:
    body = {"entry_id": str(uuid4()), "kind": "reading", "content": a_reading(running)}
    assert Client().post("/bench/entries/", body, content_type="application/json").status_code == 403
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(technician)
    assert strict.post("/bench/entries/", body, content_type="application/json").status_code == 403
    assert not Entry.objects.filter(kind="reading").exists()


def test_an_entry_is_not_booked_under_another_name(
    running: Any, technician: Any, as_person: Any, a_reading: Any
) -> None:
    body = {"entry_id": str(uuid4()), "kind": "reading", "content": a_reading(running), "by": technician.pk}
    answer = as_person(second_technician()).post("/bench/entries/", body, content_type="application/json")
    assert answer.status_code == 403
    assert answer.json()["another_person"] is True
    assert not Entry.objects.filter(kind="reading").exists()
    answer = as_person(technician).post("/bench/entries/", body, content_type="application/json")
    assert answer.status_code == 201


@pytest.mark.parametrize(
    "spoilt",
    [
        {"entry_id": "seven"},
        {"entry_id": None},
        {"kind": "guess"},
        {"kind": 7},
        {"content": "26.5"},
        {"content": {"reading": 26.5}},
        {"content": {"reading": "26.5\x00"}},
        {"content": {"reading": "\ud800"}},
        {"content": {"reading": "9" * 3000}},
    ],
)
def test_what_is_no_entry_gets_a_sentence(as_person: Any, technician: Any, spoilt: dict[str, Any]) -> None:
    body = {"entry_id": str(uuid4()), "kind": "reading", "content": {}} | spoilt
    answer = as_person(technician).post("/bench/entries/", body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["sentence"]
    assert not Entry.objects.exists()


def test_the_last_reading_completes_the_batch(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    made = factories.measured_batch(the_client, clerk, technician, bench)
    assert made.state == "readings complete"
    assert made.moves.get(to_state="readings complete").at <= timezone.now()
