"""The manager says what certificates print of the laboratory, and which origins are regulated."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from particles.laboratory.rules import describe_laboratory
from particles.models import Laboratory, RegulatedArea
from particles.records.history import last_change

pytestmark = pytest.mark.django_db

TYPED = {
    "name": "Example Laboratory (invented)",
    "address": "1 Example Lane\nExampleton",
    "contact": "office@lab.example",
    "samples_per_duplicate": "",
}
AREA = {"country": "Farland", "region": "Cyst County", "rule": "permit asked for", "listed_on": "3 Feb 2026"}
NOT_MANAGERS = ["clerk", "technician", "qa_officer", "custodian", "client_person"]


@pytest.fixture
def desk(at: Any, manager: Any) -> Any:
    return at(manager)


@pytest.fixture
def kept(db: None) -> Laboratory:
    return describe_laboratory(TYPED | {"samples_per_duplicate": None})


def send(browser: Any, **typed: Any) -> Any:
    now = Laboratory.objects.first()
    seen = {"seen": last_change(now) if now else 0}
    return browser.post(reverse("particles:laboratory"), TYPED | seen | typed)


def test_a_laboratory_is_entered_and_changed_and_history_keeps_who(desk: Any, manager: Any) -> None:
    assert send(desk).status_code == 302
    assert send(desk, contact="desk@lab.example", samples_per_duplicate="5").status_code == 302
    now = Laboratory.objects.get()
    assert (now.name, now.contact, now.samples_per_duplicate) == (
        "Example Laboratory (invented)",
        "desk@lab.example",
        5,
    )
    events = now.events.select_related("pgh_context").order_by("pgh_id")
    assert [(e.pgh_label, e.pgh_context.metadata["user"]) for e in events] == [
        ("insert", manager.pk),
        ("update", manager.pk),
    ]
    assert "one for each 5 samples" in desk.get(reverse("particles:laboratory")).content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"name": ""}, "Type the name of the laboratory."),
        ({"address": " "}, "Type the address; certificates print it."),
        ({"contact": ""}, "Type the contact."),
        ({"samples_per_duplicate": "24"}, "24 lies outside 0 to 23."),
        ({"samples_per_duplicate": "-1"}, "-1 lies outside 0 to 23."),
        ({"samples_per_duplicate": "ten"}, "Type a whole number."),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(
    desk: Any, kept: Laboratory, typed: dict[str, str], sentence: str
) -> None:
    answer = send(desk, **typed)
    assert answer.status_code == 422
    assert f"<p>{sentence}</p>" in answer.content.decode()
    assert last_change(kept) == last_change(Laboratory.objects.get())


def test_a_stale_page_is_told_and_refused_and_the_same_twice_is_harmless(desk: Any, kept: Laboratory) -> None:
    opened = last_change(kept)
    assert send(desk, contact="desk@lab.example", seen=opened).status_code == 302
    assert send(desk, contact="desk@lab.example", seen=opened).status_code == 302
    assert kept.events.count() == 2
    answer = send(desk, contact="gate@lab.example", seen=opened)
    assert answer.status_code == 409
    shown = answer.content.decode()
    assert "Mara Example has changed Example Laboratory (invented) since this page was opened" in shown
    assert 'value="gate@lab.example"' in shown
    assert Laboratory.objects.get().contact == "desk@lab.example"


def test_the_command_keeps_to_the_same_rules(kept: Laboratory) -> None:
    with pytest.raises(CommandError, match="needs a name, an address and a contact"):
        call_command("laboratory", "--contact", " ")
    with pytest.raises(CommandError, match="needs its country and the rule"):
        call_command("laboratory", "--regulated", "Farland", "", " ")
    call_command("laboratory", "--contact", "desk")
    event = kept.events.select_related("pgh_context").order_by("-pgh_id").first()
    assert event.pgh_context.metadata == {"command": "manage.py laboratory"}


def test_an_area_is_listed_once_however_often_it_is_sent(desk: Any, manager: Any) -> None:
    for rule in ("permit asked for", "Permit asked for"):
        answer = desk.post(reverse("particles:regulated_area_new"), AREA | {"rule": rule})
        assert answer.headers["Location"] == reverse("particles:regulated_areas")
    area = RegulatedArea.objects.get()
    assert (str(area), area.rule, f"{area.listed_on}") == (
        "Cyst County, Farland",
        "permit asked for",
        "2026-02-03",
    )
    (event,) = area.events.select_related("pgh_context")
    assert event.pgh_context.metadata["user"] == manager.pk
    shown = desk.get(reverse("particles:regulated_areas")).content.decode()
    for words in ("Farland", "Cyst County", "permit asked for", "3 Feb 2026"):
        assert words in shown


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"country": ""}, "Type the country."),
        ({"rule": ""}, "Type the rule."),
        ({"listed_on": ""}, "Type the day from which the rule holds."),
        ({"listed_on": "03/04/2026"}, "could be read as more than one day"),
        ({"listed_on": f"{timezone.localdate() + timedelta(days=2):%Y-%m-%d}"}, "has not come yet"),
    ],
)
def test_an_area_that_cannot_be_is_refused_beside_its_field(
    desk: Any, typed: dict[str, str], sentence: str
) -> None:
    answer = desk.post(reverse("particles:regulated_area_new"), AREA | typed)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not RegulatedArea.objects.exists()


@pytest.mark.parametrize("person", NOT_MANAGERS)
@pytest.mark.parametrize("name", ["laboratory", "regulated_areas", "regulated_area_new"])
def test_only_the_manager_keeps_the_laboratory(
    at: Any, kept: Laboratory, person: str, name: str, request: pytest.FixtureRequest
) -> None:
    browser = at(request.getfixturevalue(person))
    assert browser.get(reverse(f"particles:{name}")).status_code == 403
    if name != "regulated_areas":
        assert browser.post(reverse(f"particles:{name}"), TYPED | AREA).status_code == 403
    assert kept.events.count() == 1
    assert not RegulatedArea.objects.exists()
