"""The pages of the manager in a real browser, on a telephone, a tablet and a desk: none is wider than the screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.urls import reverse

from tests.support.browsing import CHROMIUM, page_as

WIDER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Desk:
    """The manager's page. Whatever is shown is measured."""

    def __init__(self, page: Any, address: str) -> None:
        self.page, self.address = page, address

    def look(self, heading: str) -> None:
        self.page.locator("h1", has_text=heading).wait_for()
        assert self.page.evaluate(WIDER) == 0, f"{heading} is wider than the screen"

    def go(self, name: str, heading: str, *args: Any) -> None:
        self.page.goto(self.address + reverse(name, args=args))
        self.look(heading)

    def press(self, words: str) -> None:
        self.page.get_by_role("button", name=words, exact=True).click()


@pytest.fixture(params=[(390, 844), (820, 1180), (1440, 900)], ids=["telephone", "tablet", "desk"])
def desk(
    request: pytest.FixtureRequest,
    live_server: Any,
    manager: Any,
    require: Callable[[str, bool], None],
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Desk]:
    require("browser", CHROMIUM.exists())
    with page_as(
        manager,
        live_server.url,
        request.param,
        monkeypatch,
        is_fault=lambda said: "Security Policy" in said.text,
    ) as page:
        yield Desk(page, live_server.url)


def test_a_manager_enters_the_laboratory_an_area_and_a_person(desk: Desk) -> None:
    page = desk.page
    desk.go("particles:laboratory", "The laboratory")
    page.get_by_label("Name", exact=True).fill("Example Laboratory (invented)")
    page.locator("[name=address]").fill("1 Example Lane\nExampleton")
    page.locator("[name=contact]").fill("office@lab.example")
    desk.press("Keep it so")
    page.locator(".flag-done").wait_for()
    desk.look("The laboratory")

    page.get_by_role("link", name="Regulated areas").click()
    desk.look("Regulated areas")
    desk.go("particles:regulated_area_new", "Add a regulated area")
    page.locator("[name=country]").fill("Farland")
    desk.press("Put it on the list")
    page.locator(".field-error", has_text="Type the rule.").wait_for()
    desk.look("Add a regulated area")
    page.locator("[name=rule]").fill("invented rule: an import permit is asked for before a bag is opened")
    desk.press("Put it on the list")
    page.locator(".flag-done").wait_for()
    desk.look("Regulated areas")

    desk.go("people:people", "People")
    desk.go("people:new", "Add a person")
    page.locator("[name=username]").fill("nora")
    page.locator("[name=full_name]").fill("Nora Longname-Example")
    page.get_by_label("technician:").check()
    desk.press("Make the log-in")
    desk.look("Nora Longname-Example")
    desk.press("Set the first password")
    desk.look("A new password for Nora Longname-Example")
    page.get_by_role("link", name="It is handed over").click()
    desk.look("Nora Longname-Example")
    page.get_by_text("Nora Longname-Example has left").click()
    desk.press("Close the log-in")
    page.locator(".state-refused", has_text="closed").wait_for()
    desk.look("Nora Longname-Example")
    desk.go("people:people", "People")
    nora = get_user_model()._default_manager.get(username="nora")
    assert (nora.is_active, nora.has_usable_password()) == (False, True)
