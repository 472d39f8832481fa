"""START, pad, questions and refusals are in sight on every screen, whatever is chosen and however far one scrolls."""

from __future__ import annotations

from typing import Any

import pytest

from batches.models import Reading
from tests.support.browsing import WIDER
from tests.support.on_tablet import press, soon_kept, start_first, told, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TABLETS = {"upright": (820, 1180), "lying": (1180, 820)}
SCREENS = TABLETS | {"telephone": (390, 844), "desk": (1440, 900)}
IN_SIGHT = """node => {
  const r = node.getBoundingClientRect();
  const top = document.elementFromPoint((r.left + r.right) / 2, (r.top + r.bottom) / 2);
  return r.top >= 0 && r.bottom <= innerHeight && r.left >= 0 && r.right <= innerWidth && node.contains(top);
}"""


def in_sight(page: Any, name: str) -> bool:
    """Wholly on the screen and covered by nothing."""
    page.wait_for_timeout(300)
    return bool(page.locator(name).evaluate(IN_SIGHT))


def scrolled(page: Any, to: str) -> None:
    page.evaluate(f"scrollTo(0, {to})")


def screen(page: Any, size: str) -> None:
    width, height = SCREENS[size]
    page.set_viewport_size({"width": width, "height": height})


@pytest.mark.parametrize("size", SCREENS)
def test_start_is_in_sight_whichever_cylinder_is_chosen(tablet: Any, size: str) -> None:
    screen(tablet, size)
    assert tablet.evaluate(WIDER) == 0
    for to in ("0", "document.body.scrollHeight"):
        scrolled(tablet, to)
        assert in_sight(tablet, "#start"), to
        assert in_sight(tablet, "#next-word"), to
    tablet.locator(".cylinder").last.click()
    assert "C03" in tablet.inner_text("#entry-title")
    assert in_sight(tablet, "#start")


@pytest.mark.parametrize("size", SCREENS)
def test_a_question_and_a_refusal_are_in_sight(tablet: Any, size: str) -> None:
    screen(tablet, size)
    start_first(tablet)
    type_reading(tablet, "61", "20")
    assert in_sight(tablet, "#keep-asked")
    for to in ("0", "document.body.scrollHeight"):
        scrolled(tablet, to)
        assert in_sight(tablet, "#keep-asked"), to
    tablet.locator("#keep-asked").click()
    tablet.wait_for_selector("#refused:not([hidden])")
    assert in_sight(tablet, "#refused-list li:first-child .refused-what")
    scrolled(tablet, "document.body.scrollHeight")
    assert in_sight(tablet, "#refused-list li:first-child .refused-what")


@pytest.mark.parametrize("size", TABLETS)
def test_the_pad_stays_in_sight_and_the_verb_is_read_from_two_metres(tablet: Any, size: str) -> None:
    screen(tablet, size)
    assert (
        float(tablet.evaluate("parseFloat(getComputedStyle(document.getElementById('next-word')).fontSize)"))
        >= 90
    )
    start_first(tablet)
    for to in ("0", "document.body.scrollHeight"):
        scrolled(tablet, to)
        for name in ("#keep", '[data-key="7"]', "#read-now", "#above"):
            assert in_sight(tablet, name), (to, name)
    assert "then C01 at 60 s in" in tablet.inner_text("#next-then")
    tablet.click("#missed summary")
    tablet.locator("#keep-missed").scroll_into_view_if_needed()
    assert in_sight(tablet, "#keep-missed")
    assert in_sight(tablet, "#keep"), "also with a panel open"


def test_on_a_telephone_a_chosen_cylinder_brings_the_pad_back(tablet: Any) -> None:
    screen(tablet, "telephone")
    start_first(tablet)
    tablet.locator(".cylinder").nth(1).click()
    scrolled(tablet, "document.body.scrollHeight")
    tablet.locator(".cylinder").first.click()
    assert in_sight(tablet, "#read-now")
    assert in_sight(tablet, "#next-word")


def test_what_is_focused_below_is_not_under_the_station(tablet: Any) -> None:
    start_first(tablet)
    scrolled(tablet, "document.body.scrollHeight")
    for name in ("#spill", ".cylinder >> nth=0"):
        tablet.locator(name).evaluate("node => node.focus()")
        assert in_sight(tablet, name), name


def test_the_panel_of_a_missed_reading_names_its_slot_and_keeps_it(tablet: Any) -> None:
    start_first(tablet)
    type_reading(tablet, "4.5", "20.0")
    soon_kept(tablet, Reading)
    tablet.click("#missed summary")
    assert "cylinder C01, 60 s" in tablet.inner_text("#missed-title")
    tablet.click("text=Nobody was at the bench")
    tablet.click("#keep-missed")
    missed = soon_kept(tablet, Reading, 2)[1]
    assert (missed.slot_s, missed.reason) == (60, "Nobody was at the bench.")


@pytest.mark.parametrize("size", SCREENS)
def test_axe_finds_nothing_with_a_question_and_panels_open(tablet: Any, size: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    screen(tablet, size)
    start_first(tablet)
    told(tablet, "kept by the laboratory")
    press(tablet, "61")
    tablet.click("#keep")
    press(tablet, "20")
    tablet.click("#keep")
    tablet.wait_for_selector("#ask:not([hidden])")
    for panel in ("#missed", "#stir-panel", "#void-panel"):
        tablet.locator(f"{panel} > summary").click()
    found = Axe().run(tablet)
    assert found.violations_count == 0, found.generate_report()
