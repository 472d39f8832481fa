"""A person's calendar: an address shown once, what it holds, and its end."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from batches.models import BenchDay, CalendarAddress
from batches.timetables import rules
from batches.timetables.models import KeptTimetable
from tests.support.at_once import together

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def kept(filled_batch: Any, technician: Any, asked_day: Callable[..., BenchDay]) -> KeptTimetable:
    return rules.keep(asked_day().best, seen=0, by=technician, at=timezone.now())


@pytest.fixture
def address(technician: Any, as_person: Any) -> str:
    """The path of the technician's calendar, as the page shows it once."""
    page = as_person(technician).post("/bench-day/calendar/make/")
    assert page.status_code == 200
    assert "no-store" in page["Cache-Control"]
    return str(page.context["address"].removeprefix("http://127.0.0.1:8000"))


def events(path: str) -> dict[str, Any]:
    """Events by their summary, read by somebody without a log-in."""
    answer = Client().get(path)
    assert answer.status_code == 200
    return {str(each["SUMMARY"]): each for each in Calendar.from_ical(answer.content).walk("VEVENT")}


def test_the_feed_holds_each_act_of_the_person_and_its_moment(
    kept: KeptTimetable, address: str, technician: Any
) -> None:
    answer = Client().get(address)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "no-store"
    assert "Set-Cookie" not in answer
    found = Calendar.from_ical(answer.content).walk("VEVENT")
    day, acts = kept.found.day, kept.found.acts
    assert sorted(each.decoded("DTSTART") for each in found) == sorted(day.at(act["at_s"]) for act in acts)
    assert sorted(each.decoded("DTEND") for each in found) == sorted(
        day.at(act["hands_to_s"]) for act in acts
    )
    assert len({str(each["UID"]) for each in found}) == len(acts)
    assert {each["SEQUENCE"] for each in found} == {1}
    lines = answer.content.split(b"\r\n")
    assert lines[-1] == b""
    assert max(map(len, lines)) <= 75
    assert not any(b"\n" in line or b"\r" in line for line in lines)


def test_it_names_no_client_no_bag_and_no_person(
    kept: KeptTimetable, address: str, the_client: Any, filled_batch: Any, technician: Any
) -> None:
    text = Client().get(address).content.decode().replace("\r\n ", "")
    samples = [run.sample for run in filled_batch.sample_runs]
    for name in (
        the_client.name,
        technician.first_name,
        technician.username,
        *(s.client_label for s in samples),
    ):
        assert name not in text
    for sample in samples:
        assert sample.lab_number not in text
        assert sample.job.number not in text
    assert "duplicate" not in text


def test_an_act_keeps_its_name_and_its_number_rises_with_each_version(
    kept: KeptTimetable, address: str, technician: Any, asked_day: Any
) -> None:
    before = events(address)
    later = asked_day(first_start_at=timezone.now() + timedelta(hours=1))
    rules.keep(later.best, seen=1, by=technician, at=timezone.now())
    after = events(address)
    for name, event in before.items():
        if "blank" not in name:
            assert after[name]["UID"] == event["UID"]
            assert after[name]["SEQUENCE"] == 2
    start = "Cylinder C02: start, read at 30 s and 60 s"
    assert after[start].decoded("DTSTART") > before[start].decoded("DTSTART")


def test_what_is_done_and_what_others_do_is_not_in_it(
    kept: KeptTimetable, address: str, manager: Any, as_person: Any, started: Any
) -> None:
    assert "Cylinder C02: start, read at 30 s and 60 s" in events(address)
    started(1, 0)
    assert "Cylinder C02: start, read at 30 s and 60 s" not in events(address)
    page = as_person(manager).post("/bench-day/calendar/make/")
    assert events(page.context["address"].removeprefix("http://127.0.0.1:8000")) == {}


def test_before_any_timetable_the_calendar_is_empty(address: str) -> None:
    assert events(address) == {}


def test_only_a_digest_is_kept_and_the_address_is_shown_once(
    address: str, technician: Any, as_person: Any
) -> None:
    secret = address.rsplit("/", 1)[1].removesuffix(".ics")
    assert len(secret) == 43, "32 octets in base64"
    row = CalendarAddress.objects.get()
    assert secret not in str(vars(row))
    browser = as_person(technician)
    assert secret not in browser.get("/bench-day/calendar/").content.decode()
    again = browser.post("/bench-day/calendar/make/")
    assert again.status_code == 409
    assert secret not in again.content.decode()
    assert CalendarAddress.objects.count() == 1


def test_two_presses_at_once_make_one_address(technician: Any, as_person: Any) -> None:
    browsers = [as_person(technician) for _ in range(4)]
    answers = together([lambda b=each: b.post("/bench-day/calendar/make/") for each in browsers])  # type: ignore[misc]
    assert sorted(answer.status_code for answer in answers) == [200, 409, 409, 409]


def test_an_ended_an_unknown_and_a_closed_persons_address_are_not_there(
    kept: KeptTimetable, address: str, technician: Any, as_person: Any
) -> None:
    assert Client().get("/bench-day/calendar/unknown.ics").status_code == 404
    technician.is_active = False
    technician.save()
    assert Client().get(address).status_code == 404
    technician.is_active = True
    technician.roles, before = ["client"], technician.roles
    technician.save()
    assert Client().get(address).status_code == 404
    technician.roles = before
    technician.save()
    assert Client().get(address).status_code == 200
    browser = as_person(technician)
    assert browser.post("/bench-day/calendar/end/").status_code == 302
    ended = Client().get(address)
    assert (ended.status_code, ended["Cache-Control"]) == (404, "no-store")
    assert browser.post("/bench-day/calendar/end/").status_code == 409
    assert browser.post("/bench-day/calendar/make/").status_code == 200, "another can be made"
    assert Client().get(address).status_code == 404


def test_nobody_ends_the_address_of_another(address: str, manager: Any, as_person: Any) -> None:
    assert as_person(manager).post("/bench-day/calendar/end/").status_code == 409
    assert Client().get(address).status_code == 200


def test_the_database_lets_an_address_be_ended_once_and_nothing_else(
    address: str, technician: Any, manager: Any
) -> None:
    rows, now = CalendarAddress.objects.all(), timezone.now()
    for change in ({"digest": "0" * 64}, {"by": manager}, {"at": now}):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(**change)
    rows.update(ended_at=now)
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.update(ended_at=None)
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.delete()


def test_the_feed_is_only_read(address: str) -> None:
    assert Client().post(address).status_code == 405
    assert Client().head(address).status_code == 200
