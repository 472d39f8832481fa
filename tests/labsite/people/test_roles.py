"""Permissions come from the role table and from nowhere else."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse

from labsite.navigation import PLACES
from labsite.people.roles import PERMISSIONS, Role
from particles.distribution import CATALOGUE
from tests.conftest import SECRET

pytestmark = pytest.mark.django_db


def test_every_place_needs_a_permission_that_some_role_has() -> None:
    given = set().union(*PERMISSIONS.values())
    assert {permission for permission, _, _ in PLACES} <= given


def test_nobody_has_both_the_bench_and_its_review() -> None:
    assert set(PERMISSIONS) == set(Role)
    for role, permissions in PERMISSIONS.items():
        assert not {"batches.read", "batches.review"} <= permissions, role


def test_a_person_with_two_roles_has_both_sets(clerk: Any) -> None:
    clerk.roles = [Role.RECEIVING_CLERK, Role.TECHNICIAN]
    assert clerk.has_perm("particles.receive")
    assert clerk.has_perm("batches.read")
    assert not clerk.has_perm("batches.review")


def test_a_person_who_left_may_do_nothing(qa_officer: Any) -> None:
    qa_officer.is_active = False
    assert not qa_officer.has_perm("batches.review")


def test_the_database_refuses_a_log_in_above_the_roles() -> None:
    with pytest.raises(IntegrityError, match="nobody_stands_above_the_roles"):
        get_user_model().objects.create_superuser("root", password=SECRET)


@pytest.mark.parametrize(
    ("person", "place"),
    [
        ("clerk", "particles:arrivals"),
        ("technician", "batches:preparation"),
        ("qa_officer", "batches:review_list"),
        ("manager", "particles:arrivals"),
        ("custodian", "batches:list"),
        ("client_person", "reports:my_jobs"),
    ],
)
def test_each_role_starts_at_its_own_work(
    person: str, place: str, request: pytest.FixtureRequest, client: Client
) -> None:
    client.force_login(request.getfixturevalue(person))
    answer = client.get("/")
    assert (answer.status_code, answer.headers["Location"]) == (302, reverse(place))
    assert client.get(answer.headers["Location"]).status_code == 200


def test_somebody_without_a_role_is_told_so(client: Client) -> None:
    client.force_login(get_user_model().objects.create_user("nobody-yet", password=SECRET))
    answer = client.get("/")
    assert answer.status_code == 403
    assert "has no role" in answer.content.decode()


def test_a_stranger_is_sent_to_the_log_in_and_a_wrong_password_is_refused(client: Client, clerk: Any) -> None:
    answer = client.get("/arrivals/")
    assert answer.status_code == 302
    login = reverse("account_login")
    assert answer.headers["Location"].startswith(login)
    refused = client.post(login, {"login": clerk.username, "password": "wrong"})
    assert refused.status_code == 200
    assert client.get("/arrivals/").status_code == 302
    client.post(login, {"login": clerk.username, "password": SECRET})
    assert client.get("/arrivals/").status_code == 200


@pytest.mark.parametrize("place", ["signup", "password/reset", "email"])
def test_accounts_and_lost_passwords_are_the_laboratorys_affair(
    client: Client, clerk: Any, place: str
) -> None:
    client.force_login(clerk)
    assert client.get(f"/account/{place}/").status_code == 404


def test_a_password_is_changed_with_the_old_one(client: Client, clerk: Any) -> None:
    client.force_login(clerk)
    new = {"password1": "another long secret", "password2": "another long secret"}
    client.post(reverse("account_change_password"), {"oldpassword": "wrong"} | new)
    clerk.refresh_from_db()
    assert clerk.check_password(SECRET)
    client.post(reverse("account_change_password"), {"oldpassword": SECRET} | new)
    clerk.refresh_from_db()
    assert clerk.check_password("another long secret")


def test_a_second_factor_can_be_set_up(client: Client, clerk: Any) -> None:
    client.post(reverse("account_login"), {"login": clerk.username, "password": SECRET})
    assert client.get(reverse("mfa_index")).status_code == 200
    asked = client.get(reverse("mfa_activate_totp"))
    page = client.post(asked.headers["Location"], {"password": SECRET}, follow=True)
    assert page.status_code == 200
    assert b"data:image/svg+xml" in page.content


def test_the_page_of_a_mistyped_address_helps(client: Client, clerk: Any) -> None:
    client.force_login(clerk)
    assert client.get("/no/such/page/").status_code == 404


def test_help_is_for_everybody_who_is_logged_in(client: Client, client_person: Any) -> None:
    client.force_login(client_person)
    shown = client.get(reverse("help"))
    assert shown.status_code == 200
    assert [each.title for each in shown.context["findings"]] == [row.title for row in CATALOGUE.values()]
