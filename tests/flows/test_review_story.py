"""
The quality officer's story in a real Chromium: a batch with two planted faults, from its verdict to the signature.

Two bags of the batch were read into each other's cylinder and one mass was typed 32 % too light. All soils invented.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import connection
from django.utils import timezone

from batches.models import Batch, CauseAnswer, RunDecision
from batches.review import rules as review_rules
from tests.conftest import SECRET
from tests.support.full_batch import full_batch
from tests.support.on_tablet import CHROMIUM, in_laboratory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SOILS = ("loam", "silt loam", "loam", "clay loam", "sandy loam", "loam")
UNLIKE = ("loam", "silt loam", "sandy loam", "clay loam")
"""No two neighbours alike: readings that are the same beside each other ask for a decision, and should."""
EXCHANGED = (1, 2)
TOO_LIGHT = {5: "54.40"}
"""A sandy loam of which 80 g were weighed, digits mistyped."""
SIZES = {"desk": (1440, 900), "tablet": (820, 1180)}
FEWEST_CLICKS = 3
"""A clean batch: quality control looked at, the password's field, the signature."""


def a_little_more(line: int, read: dict[int, str]) -> dict[int, str]:
    """Every first portion 1 g/L above its duplicate, which may stand beside another cylinder of the same soil."""
    return {slot: f"{float(value) + 1.0:.1f}" for slot, value in read.items()}


@pytest.fixture
def handed_over(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Callable[[], int]
) -> Callable[..., Batch]:
    def made(**planted: Any) -> Batch:
        batch = full_batch(the_client, clerk, technician, bench, **({"soils": SOILS} | planted))
        work_off()
        review_rules.submit(batch, by=technician, at=timezone.now())
        return batch

    return made


@pytest.fixture
def open_page(
    live_server: Any, qa_officer: Any, client: Any, require: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[..., Any]]:
    """A page of the officer's in a real browser; an error in it, or a policy violation, fails the story."""
    require("browser", CHROMIUM.exists())
    playwright = pytest.importorskip("playwright.sync_api")
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    client.force_login(qa_officer)
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}
    faults: list[str] = []
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])

        def opened(path: str, size: str) -> Any:
            width, height = SIZES[size]
            context = browser.new_context(viewport={"width": width, "height": height})
            context.add_cookies([cookie])
            page = context.new_page()
            page.on("pageerror", lambda error: faults.append(str(error)))
            page.on("console", lambda said: faults.append(said.text) if "Policy" in said.text else None)
            page.goto(live_server.url + path)
            return page

        yield opened
        browser.close()
        connection.close()  # the one of the driver's loop
    assert faults == []


def accessible(page: Any) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{each['id']}: {node['html'][:120]}" for each in found for node in each["nodes"]]


def looked_at(page: Any) -> None:
    """Quality control is confirmed; where something did not pass, in a sentence."""
    note = page.locator("[name=look-note]")
    if note.count():
        note.fill("The pair lies apart as the planted fault makes it.")
    page.get_by_role("button", name="Quality control looked at").click()
    page.get_by_text("Kept: quality control was looked at.").wait_for()


def test_on_a_tablet_the_acts_of_each_sample_are_in_sight(handed_over: Any, open_page: Any) -> None:
    page = open_page(f"/review/{handed_over().number}/", "tablet")
    looked_at(page)
    within = page.locator(".strip").evaluate("table => table.scrollWidth <= table.parentElement.clientWidth")
    assert within, "nothing of a sample is beyond the side of the screen"


@pytest.mark.parametrize("size", SIZES)
def test_from_the_verdict_to_the_signature(handed_over: Any, open_page: Any, size: str) -> None:
    """Bench faults 22 and 59: a mass typed wrongly and two bags exchanged are decided, and nothing else is asked."""
    batch = handed_over(exchanged=[EXCHANGED], masses_g=TOO_LIGHT)
    page = open_page("/review/", size)
    page.get_by_role("link", name=batch.number).click()
    assert page.get_by_role("heading", name="Samples, cylinder by cylinder").count() == 0
    assert accessible(page) == []
    looked_at(page)
    decide_each_cause(page)
    assert accessible(page) == []
    sign(page, "not the password")
    refused = page.get_by_text("The password does not belong to you; nothing was signed.")
    assert refused.evaluate("element => element.getBoundingClientRect().top < innerHeight"), "in sight"
    sign(page, SECRET)
    signature = page.locator("#signature").inner_text()
    assert "is approved and signed" in signature, signature
    assert in_laboratory(lambda: Batch.objects.get(pk=batch.pk).state) == "approved"
    faulty = {*EXCHANGED, *TOO_LIGHT}
    repeated = RunDecision.objects.filter(choice="repeat").values_list(
        "result__run__portion__sample__line", flat=True
    )
    assert faulty <= set(in_laboratory(lambda: list(repeated)))


def decide_each_cause(page: Any) -> None:
    """Every open cause, the first one first: what asks for a decision has its samples analysed again."""
    for _ in range(20):
        form = page.locator(".cause-form").first
        if form.count() == 0:
            return
        if form.locator("[value=repeat]").count():
            form.locator("[value=repeat]").check()
        form.locator("textarea").fill("Looked at sheet and tray; the bags are weighed out again.")
        place = form.locator("xpath=ancestor::article").get_attribute("id")
        form.locator("button").click()
        page.locator(f"#{place}", has_text="The answer is kept.").wait_for()
        assert page.locator(f"#{place}").evaluate(
            "element => element.getBoundingClientRect().top < innerHeight"
        ), "what was done is said in sight"
    pytest.fail("there was no end of causes")


def sign(page: Any, secret: str) -> None:
    why = page.locator("[name=sign-why_rest]")
    if why.count():
        why.fill("The two bags and the mass concern these samples alone; blank and pair agree.")
    page.locator("input[type=password]").fill(secret)
    page.get_by_role("button", name="Sign and approve the batch").click()
    page.wait_for_load_state()


def test_a_full_clean_batch_takes_three_clicks_and_three_screens(handed_over: Any, open_page: Any) -> None:
    batch = handed_over(soils=UNLIKE * 5, plant=a_little_more)
    page = open_page(f"/review/{batch.number}/", "desk")
    began = time.monotonic()
    looked_at(page)
    assert page.locator("[data-sample]").count() > 20
    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * SIZES["desk"][1]
    assert page.locator(".cause-form").count() == 0, page.locator("#causes").inner_text()
    page.locator("input[type=password]").click()
    page.keyboard.type(SECRET)
    page.get_by_role("button", name="Sign and approve the batch").click()
    page.get_by_text("is approved and signed").first.wait_for()
    print(f"{FEWEST_CLICKS} clicks, {time.monotonic() - began:.1f} s of pages")
    assert in_laboratory(lambda: CauseAnswer.objects.count()) == 0


def test_the_samples_are_gone_through_by_keys(handed_over: Any, open_page: Any) -> None:
    batch = handed_over()
    page = open_page(f"/review/{batch.number}/", "desk")
    looked_at(page)
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("k")
    first = page.locator("[data-sample]").first
    assert page.evaluate("document.activeElement.id") == first.get_attribute("id")
    page.keyboard.press("a")
    page.get_by_text("The decision on").wait_for()
    assert in_laboratory(lambda: RunDecision.objects.get().choice) == "report"
    second = page.locator("[data-sample]").nth(1)
    assert page.evaluate("document.activeElement.id") == second.get_attribute("id"), "on to the next"
    # A duplicate or a reference soil is compared, not reported: nothing is decided there.
    while page.evaluate("document.activeElement.querySelector('[data-decide]') === null"):
        page.keyboard.press("j")
    place = page.evaluate("document.activeElement.id")
    page.keyboard.press("d")
    page.locator(".deciding").wait_for()
    assert f"#{place}" in page.url
    page.locator(".deciding [value=repeat]").check()
    page.locator(".deciding [name$=note]").fill("Foam at the stem, as the bench says.")
    page.get_by_role("button", name="Keep the decision").click()
    page.locator(f"#{place}", has_text="The decision on").wait_for()
    assert in_laboratory(lambda: RunDecision.objects.latest("pk").choice) == "repeat"
