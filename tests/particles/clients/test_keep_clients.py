from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from particles.models import Client, ClientPerson, Job
from tests.support import factories

pytestmark = pytest.mark.django_db

TYPED = {"name": "New Farm (invented)", "address": "2 Example Lane", "contact": ""}


@pytest.fixture
def consultant(django_user_model: Any) -> Any:
    return django_user_model.objects.create(username="connie", roles=["client"])


def test_a_client_is_entered(at: Any, manager: Any) -> None:
    assert at(manager).post(reverse("particles:client_new"), TYPED).status_code == 302
    assert Client.objects.get().address == "2 Example Lane"


def test_a_name_is_used_once_whatever_its_capitals(at: Any, manager: Any) -> None:
    browser = at(manager)
    browser.post(reverse("particles:client_new"), TYPED)
    again = browser.post(reverse("particles:client_new"), TYPED | {"name": "NEW FARM (invented)"})
    assert again.status_code == 422
    assert "is a client already" in again.content.decode()
    assert Client.objects.count() == 1


def test_a_client_without_name_or_address_is_refused(at: Any, manager: Any) -> None:
    answer = at(manager).post(reverse("particles:client_new"), {"contact": "Office"})
    assert answer.status_code == 422
    assert "This field is required" not in answer.content.decode()
    assert 'value="Office"' in answer.content.decode()


def add(browser: Any, client: Any, **typed: str) -> Any:
    return browser.post(reverse("particles:client_person_new", args=[client.pk]), typed)


def test_a_person_added_with_consent_sees_the_clients_jobs_and_no_others(
    at: Any, manager: Any, clerk: Any, bench: Any, the_client: Any, consultant: Any
) -> None:
    job = factories.job(the_client, clerk)
    factories.job(factories.client("Other Farm (invented)"), clerk)
    assert add(at(manager), the_client, username="connie", consent="letter, folder C").status_code == 302
    place = ClientPerson.objects.get()
    assert (place.granted_by, place.consent) == (manager, "letter, folder C")
    assert list(Job.objects.visible_to(consultant)) == [job]


@pytest.mark.parametrize(
    ("username", "sentence"), [("nobody", "No log-in is called"), ("tomas", "does not have the role client")]
)
def test_only_a_log_in_with_the_role_client_is_added(
    at: Any, manager: Any, technician: Any, the_client: Any, username: str, sentence: str
) -> None:
    answer = add(at(manager), the_client, username=username, consent="letter")
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not ClientPerson.objects.exists()


def test_consent_must_be_named(at: Any, manager: Any, the_client: Any, consultant: Any) -> None:
    assert add(at(manager), the_client, username="connie", consent="").status_code == 422
    assert not ClientPerson.objects.exists()


def test_one_person_is_added_once(at: Any, manager: Any, the_client: Any, consultant: Any) -> None:
    add(at(manager), the_client, username="connie", consent="letter")
    assert add(at(manager), the_client, username="connie", consent="letter").status_code == 422
    with pytest.raises(IntegrityError, match="one_place_per_person_and_client"), transaction.atomic():
        ClientPerson.objects.create(
            client=the_client, user=consultant, granted_by=manager, granted_at=timezone.now(), consent="x"
        )


def test_many_clients_ask_no_more_often_than_one(at: Any, manager: Any, client_person: Any) -> None:
    browser = at(manager)

    def questions() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert browser.get(reverse("particles:clients")).status_code == 200
        return len(asked)

    few = questions()
    for n in range(20):
        factories.person_of(factories.client(f"Farm {n} (invented)"), client_person, manager)
    assert questions() == few
