"""Every address of the app, and who may not come in."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse

pytestmark = pytest.mark.django_db

CLERKS = {"clerk", "manager"}
STAFF = {"clerk", "technician", "qa_officer", "manager", "custodian"}
EVERYBODY = [*sorted(STAFF), "client_person", "stranger"]

# (name, method, who may)
ADDRESSES = [
    ("arrivals", "get", CLERKS),
    ("job_new", "get", CLERKS),
    ("job_new", "post", CLERKS),
    ("job", "get", STAFF),
    ("job_acknowledgement", "get", STAFF),
    ("job_accept", "post", CLERKS),
    ("sample_accept", "post", CLERKS),
    ("sample_hold", "post", CLERKS),
    ("sample_refuse", "post", CLERKS),
    ("sample_accept", "get", CLERKS),
    ("correct_job", "get", CLERKS),
    ("correct_job", "post", CLERKS),
    ("correct_sample", "post", CLERKS),
    ("correct_client", "post", {"manager"}),
    ("clients", "get", {"manager"}),
    ("client_new", "get", {"manager"}),
    ("client_new", "post", {"manager"}),
    ("client_person_new", "get", {"manager"}),
    ("client_person_new", "post", {"manager"}),
]


def _address(name: str, job: Any) -> str:
    if name in {"job", "job_acknowledgement", "job_accept", "correct_job"}:
        return reverse(f"particles:{name}", args=[job.number])
    if name.startswith("sample") or name == "correct_sample":
        return reverse(f"particles:{name}", args=[job.samples.first().lab_number])
    if name in {"client_person_new", "correct_client"}:
        return reverse(f"particles:{name}", args=[job.client_id])
    return reverse(f"particles:{name}")


@pytest.mark.parametrize(("name", "method", "may"), ADDRESSES)
def test_only_the_named_roles_come_in(
    name: str, method: str, may: set[str], the_job: Any, at: Any, request: pytest.FixtureRequest
) -> None:
    assert may < set(EVERYBODY)
    for role in EVERYBODY:
        answer = getattr(at(request.getfixturevalue(role)), method)(_address(name, the_job))
        assert (answer.status_code == 403) == (role not in may), role


@pytest.mark.parametrize(("name", "method", "may"), ADDRESSES)
def test_nobody_comes_in_without_logging_in(name: str, method: str, may: set[str], the_job: Any) -> None:
    answer = getattr(Browser(), method)(_address(name, the_job))
    assert answer.status_code == 302
    assert reverse("account_login") in answer["Location"]


def test_refused_people_change_nothing(the_job: Any, at: Any, technician: Any, client_person: Any) -> None:
    sample = the_job.samples.first()
    for person in (technician, client_person):
        at(person).post(reverse("particles:sample_accept", args=[sample.lab_number]))
        at(person).post(reverse("particles:job_accept", args=[the_job.number]))
    sample.refresh_from_db()
    assert sample.state == "arrived"
    assert not sample.moves.exists()


def test_numbers_that_do_not_exist_are_not_found(at: Any, clerk: Any) -> None:
    assert at(clerk).get(reverse("particles:job", args=["J99-0001"])).status_code == 404
    assert at(clerk).post(reverse("particles:sample_accept", args=["99-00001"])).status_code == 404


def test_what_changes_something_is_not_done_by_following_a_link(the_job: Any, at: Any, clerk: Any) -> None:
    assert at(clerk).get(reverse("particles:job_accept", args=[the_job.number])).status_code == 405
    at(clerk).get(reverse("particles:sample_refuse", args=[the_job.samples.first().lab_number]))
    assert the_job.samples.first().state == "arrived"
