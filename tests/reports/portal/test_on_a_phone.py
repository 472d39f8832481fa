"""A client's pages in a real Chromium: on a phone no figure is cut off, and what is not a figure is folded."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from reports.certificates.models import Certificate
from tests.support.browsing import CHROMIUM, cut_off, page_as

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE, TABLET, DESK = (390, 844), (820, 1180), (1440, 900)
SCREENS_OF_A_PHONE = 8
"""What a certificate of two samples may take on a phone."""


@pytest.fixture
def shown(
    certificate: Certificate, live_server: Any, client_person: Any, require: Any,
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest,
) -> Iterator[Any]:  # fmt: skip
    """A page as the client reads it, at one size of the screen."""
    require("browser", CHROMIUM.exists())
    with page_as(
        client_person,
        live_server.url,
        request.param,
        monkeypatch,
        is_fault=lambda said: "Policy" in said.text,
    ) as page:
        page.addresses = {
            "jobs": "/my/",
            "job": f"/my/{certificate.job.number}/",
            "certificate": f"/certificates/{certificate.number}/",
        }
        yield page


@pytest.mark.parametrize("shown", [PHONE, TABLET, DESK], indirect=True)
def test_no_figure_and_no_button_is_cut_off_and_nothing_is_out_of_reach(shown: Any) -> None:
    for address in shown.addresses.values():
        shown.goto(address)
        assert cut_off(shown) == [], address
        assert Axe().run(shown).response["violations"] == [], address


@pytest.mark.parametrize("shown", [PHONE], indirect=True)
def test_on_a_phone_a_row_is_a_card_with_its_labels_and_still_a_table(shown: Any) -> None:
    shown.goto(shown.addresses["certificate"])
    table = shown.get_by_role("region", name="Results of all samples").get_by_role("table")
    assert table.get_by_role("columnheader").all_inner_texts()[2].split() == ["Sand", "%"]
    row = table.get_by_role("row").nth(1)
    cells = row.get_by_role("cell")
    labels = cells.evaluate_all("cells => cells.map((c) => getComputedStyle(c, '::before').content)")
    assert [label.split('"')[1] for label in labels] == [
        "Lab number", "Sand, %", "Silt, %", "Clay, %", "Texture class", "Qualifiers",
    ]  # fmt: skip
    tops = cells.evaluate_all("cells => cells.map((c) => c.getBoundingClientRect().top)")
    assert tops == sorted(set(tops)), "one below the other"


@pytest.mark.parametrize("shown", [PHONE], indirect=True)
def test_on_a_phone_what_is_no_figure_is_folded_and_opens(shown: Any) -> None:
    shown.goto(shown.addresses["certificate"])
    folds = shown.locator(".phone-fold")
    shown.locator(".phone-fold[open]").first.wait_for(state="detached")
    assert folds.count() >= 3
    assert shown.evaluate("document.documentElement.scrollHeight") < SCREENS_OF_A_PHONE * PHONE[1]
    folds.first.locator("summary").first.click()
    assert folds.first.locator("dl").is_visible()
    assert cut_off(shown) == []


@pytest.mark.parametrize("shown", [DESK], indirect=True)
def test_on_a_desk_nothing_is_folded(shown: Any) -> None:
    shown.goto(shown.addresses["certificate"])
    assert shown.locator(".phone-fold:not([open])").count() == 0
    assert not shown.locator(".phone-fold > summary").first.is_visible()
