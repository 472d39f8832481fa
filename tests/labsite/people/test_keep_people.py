"""The manager makes log-ins, gives and takes roles, sets passwords, closes and opens; history keeps who did it."""

from __future__ import annotations

import re
from functools import partial
from typing import Any

import pytest
from django.contrib.auth import authenticate, get_user_model
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from labsite.audit.chain import verify_chain
from labsite.people import rules
from labsite.people.roles import PERMISSIONS, Role
from particles.records.history import last_change
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson
from tests.support.at_once import together

pytestmark = pytest.mark.django_db

NORA: dict[str, Any] = {
    "username": "nora",
    "full_name": "Nora Example",
    "initials": "NE",
    "roles": ["technician"],
}


def people() -> Any:
    return get_user_model()._default_manager


@pytest.fixture
def desk(manager: Any) -> Client:
    """The manager's browser."""
    browser = Client()
    browser.force_login(manager)
    return browser


@pytest.fixture
def nora(db: None) -> Any:
    made = rules.add_person(**NORA)
    rules.new_password(made, by=None)
    return people().get(pk=made.pk)


def act(browser: Client, name: str, person: Any, **typed: Any) -> Any:
    """Send an act from a page opened now, unless `seen` says otherwise."""
    return browser.post(reverse(f"people:{name}", args=[person.pk]), {"seen": last_change(person)} | typed)


def history(person: Any) -> list[tuple[str, Any]]:
    """What is on record of a log-in, each with the number of who did it."""
    events = person.events.select_related("pgh_context").order_by("pgh_id")
    return [(e.pgh_label, e.pgh_context.metadata.get("user") if e.pgh_context else None) for e in events]


def test_a_person_is_added_gets_a_first_password_once_and_logs_in(desk: Client, manager: Any) -> None:
    answer = desk.post(reverse("people:new"), NORA)
    nora = people().get(username="nora")
    assert answer.headers["Location"] == reverse("people:person", args=[nora.pk])
    assert (str(nora), nora.initials, nora.roles) == ("Nora Example", "NE", ["technician"])
    assert not nora.has_usable_password()
    shown = act(desk, "password", nora)
    secret = re.search(r"<kbd>([\w-]{16})</kbd>", shown.content.decode())[1]  # type: ignore[index]
    assert "no-store" in shown.headers["Cache-Control"]
    assert authenticate(None, username="nora", password=secret) == nora
    for page in (reverse("people:people"), reverse("people:person", args=[nora.pk])):
        assert secret not in desk.get(page).content.decode()
    assert history(nora) == [("insert", manager.pk), ("password set", manager.pk)]


def test_the_same_form_sent_twice_makes_one_person(desk: Client) -> None:
    for _ in range(2):
        assert desk.post(reverse("people:new"), NORA).status_code == 302
    assert people().filter(username="nora").count() == 1


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"username": "no ra"}, "Enter a valid username"),
        ({"username": ""}, "Type the name to log in with"),
        ({"username": "NORA"}, "is the log-in of Nora Example already"),
        ({"username": "nora", "full_name": "Nora Other"}, "is the log-in of Nora Example already"),
        ({"username": "ned", "full_name": ""}, "Type the full name"),
        ({"username": "ned", "initials": "NEDDY"}, "At most 4 characters"),
        ({"username": "ned", "roles": ["king"]}, "king is not one of the available choices"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(
    desk: Client, nora: Any, typed: dict[str, Any], sentence: str
) -> None:
    answer = desk.post(reverse("people:new"), NORA | typed)
    assert answer.status_code == 422
    assert re.search(rf'class="field-error"[^>]*><p>[^<]*{sentence}', answer.content.decode())
    assert people().exclude(pk=nora.pk).filter(username__istartswith="n").count() == 0


def test_roles_are_given_and_taken_and_the_name_corrected(desk: Client, nora: Any, manager: Any) -> None:
    typed = {"full_name": "Nora Sample", "initials": "NS", "roles": ["QA officer", "equipment custodian"]}
    assert act(desk, "person", nora, **typed).status_code == 302
    nora.refresh_from_db()
    assert (str(nora), nora.initials, nora.roles) == (
        "Nora Sample",
        "NS",
        ["QA officer", "equipment custodian"],
    )
    assert history(nora)[-1] == ("update", manager.pk)
    shown = desk.get(reverse("people:person", args=[nora.pk])).content.decode()
    assert "Had the role technician, has the roles QA officer, equipment custodian" in shown
    assert "Name was “Nora Example”, is “Nora Sample”" in shown
    assert str(manager) in shown


def test_what_stands_already_leaves_no_history(desk: Client, nora: Any) -> None:
    before = history(nora)
    assert act(desk, "person", nora, **NORA).status_code == 302
    assert history(nora) == before


def test_a_stale_page_is_told_and_refused(desk: Client, nora: Any, qa_officer: Any) -> None:
    opened = last_change(nora)
    rules.change_person(nora, by=qa_officer, roles=["QA officer"])
    mine = {"full_name": "Nora Example", "initials": "NE", "roles": ["equipment custodian"], "seen": opened}
    answer = act(desk, "person", nora, **mine)
    shown = answer.content.decode()
    assert answer.status_code == 409
    assert "has changed Nora Example since this page was opened" in shown
    assert f'name="seen" value="{last_change(nora)}"' in shown
    for name in ("close", "password"):
        assert act(desk, name, nora, seen=opened).status_code == 409
    nora.refresh_from_db()
    assert (nora.roles, nora.is_active) == (["QA officer"], True)
    assert act(desk, "person", nora, **mine | {"seen": last_change(nora)}).status_code == 302


def test_a_page_without_what_it_has_seen_changes_nothing(desk: Client, nora: Any) -> None:
    for seen in ("", "soon", "9" * 30):
        assert act(desk, "close", nora, seen=seen).status_code == 409
    assert people().get(pk=nora.pk).is_active


def test_a_closed_persons_session_ends_and_stays_ended(desk: Client, nora: Any, manager: Any) -> None:
    browser, other = Client(), Client()
    browser.force_login(nora)
    other.force_login(manager)
    assert browser.get(reverse("help")).status_code == 200
    for _ in range(2):
        assert act(desk, "close", nora).status_code == 302
    assert not people().get(pk=nora.pk).is_active
    assert browser.get(reverse("help")).status_code == 302
    assert act(desk, "reopen", nora).status_code == 302
    assert people().get(pk=nora.pk).is_active
    assert browser.get(reverse("help")).status_code == 302, "the old session came to life again"
    assert other.get(reverse("help")).status_code == 200
    assert history(nora)[-2:] == [("update", manager.pk)] * 2


def test_a_new_password_ends_older_sessions_and_sent_twice_is_set_once(desk: Client, nora: Any) -> None:
    browser = Client()
    browser.force_login(nora)
    seen = last_change(nora)
    assert act(desk, "password", nora, seen=seen).status_code == 200
    kept = people().get(pk=nora.pk).password
    assert act(desk, "password", nora, seen=seen).status_code == 409
    assert people().get(pk=nora.pk).password == kept
    assert browser.get(reverse("help")).status_code == 302


def test_a_closed_log_in_gets_no_password(desk: Client, nora: Any) -> None:
    act(desk, "close", nora)
    answer = act(desk, "password", nora)
    assert answer.status_code == 409
    assert "is closed. Open it again first" in answer.content.decode()


def test_nobody_takes_the_role_from_themselves_or_closes_their_own_log_in(
    desk: Client, manager: Any, nora: Any
) -> None:
    rules.change_person(nora, by=None, roles=["laboratory manager"])
    mine = {"full_name": "Mara Example", "initials": "", "roles": ["technician"]}
    answer = act(desk, "person", manager, **mine)
    assert answer.status_code == 403
    assert "Nobody takes the role laboratory manager from themselves" in answer.content.decode()
    assert act(desk, "close", manager).status_code == 403
    assert act(desk, "password", manager).status_code == 403
    manager.refresh_from_db()
    assert (manager.roles, manager.is_active) == (["laboratory manager"], True)
    also = mine | {"roles": ["laboratory manager", "technician"]}
    assert act(desk, "person", manager, **also).status_code == 302


def test_the_last_open_manager_stays_one(manager: Any, nora: Any) -> None:
    for role in ("technician", "QA officer"):
        with pytest.raises(CommandError, match="is the only one with an open log-in and the role"):
            call_command("person", manager.username, "--role", role)
    rules.change_person(nora, by=None, roles=["laboratory manager"])
    rules.close(nora, by=None)
    with pytest.raises(NotPossible, match="is the only one with an open log-in and the role"):
        rules.close(manager, by=None)
    rules.reopen(nora)
    rules.close(manager, by=nora)
    assert not people().get(pk=manager.pk).is_active


@pytest.mark.django_db(transaction=True)
def test_two_managers_cannot_close_each_other_at_the_same_moment(manager: Any, nora: Any) -> None:
    rules.change_person(nora, by=None, roles=["laboratory manager"])

    def closing(whom: Any, by: Any) -> str:
        try:
            rules.close(whom, by=by)
        except NotPossible:
            return "refused"
        return "closed"

    done = together([lambda: closing(nora, manager), lambda: closing(manager, nora)])
    assert sorted(done) == ["closed", "refused"]
    assert people().filter(is_active=True, roles__contains=[Role.MANAGER]).count() == 1
    links, breaks = verify_chain()
    assert (links >= 5, breaks) == (True, [])


@pytest.mark.django_db(transaction=True)
def test_a_name_asked_for_by_six_at_once_is_given_once(manager: Any) -> None:
    def asking(full_name: str) -> str:
        try:
            rules.add_person(**NORA | {"full_name": full_name})
        except AlreadyThere:
            return "refused"
        return "made"

    done = together([partial(asking, f"Nora Example-{n}") for n in range(6)])
    assert sorted(done) == ["made"] + ["refused"] * 5
    assert people().filter(username="nora").count() == 1


def test_a_command_leaves_its_name_in_the_history(desk: Client, capsys: Any) -> None:
    call_command("person", "ned", "--role", "technician")
    ned = people().get(username="ned")
    assert [e.pgh_context.metadata for e in ned.events.all()] == [{"command": "manage.py person"}] * 2
    assert "manage.py person" in desk.get(reverse("people:person", args=[ned.pk])).content.decode()


def test_a_name_is_refused_where_it_stands_already_with_other_content(nora: Any) -> None:
    with pytest.raises(AlreadyThere, match="is the log-in of Nora Example already"):
        rules.add_person(**NORA | {"username": "Nora"})
    with pytest.raises(NotThisPerson):
        rules.close(nora, by=nora)


@pytest.mark.parametrize("person", ["clerk", "technician", "qa_officer", "custodian", "client_person"])
@pytest.mark.parametrize("name", ["people", "new", "person", "close", "reopen", "password"])
def test_only_the_manager_keeps_people(
    person: str, name: str, request: pytest.FixtureRequest, manager: Any
) -> None:
    browser = Client()
    browser.force_login(request.getfixturevalue(person))
    address = reverse(f"people:{name}", args=[] if name in {"people", "new"} else [manager.pk])
    method = browser.get if name in {"people", "new", "person"} else browser.post
    assert method(address).status_code == 403
    if name in {"new", "person"}:
        assert browser.post(address, NORA).status_code == 403
    assert list(people().filter(username="nora")) == []


def test_only_the_managers_role_holds_the_permission() -> None:
    assert [role for role, held in PERMISSIONS.items() if "labsite.keep_people" in held] == [Role.MANAGER]


def test_the_list_shows_everybody_with_standing_and_leads_to_each(
    desk: Client, nora: Any, clerk: Any
) -> None:
    rules.close(nora, by=None)
    shown = desk.get(reverse("people:people")).content.decode()
    assert re.search(r"Nora Example.*?>closed<", shown, re.DOTALL)
    assert reverse("people:person", args=[clerk.pk]) in shown
    assert 'aria-current="page">People</a>' in shown
