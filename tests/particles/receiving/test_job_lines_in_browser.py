"""The table of a new job in a real browser: keys, further lines, pasting a block."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import reverse

from tests.support.browsing import CHROMIUM, page_as

PASTE = """(box, text) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  box.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
}"""

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(not CHROMIUM.exists(), reason="no Chromium on this computer"),
]


@pytest.fixture
def page(
    live_server: Any, clerk: Any, bench: Any, the_client: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Any]:
    """The form of a new job as the clerk sees it; an error in the page fails the test."""
    with page_as(
        clerk,
        live_server.url,
        (1280, 720),
        monkeypatch,
        is_fault=lambda said: "Security Policy" in said.text,
    ) as opened:
        opened.goto(reverse("particles:job_new"))
        yield opened


def paste(page: Any, cell: str, text: str) -> str:
    page.locator(f"input[name={cell}]").evaluate(PASTE, text)
    return str(page.inner_text(".paste-said"))


def cell(page: Any, name: str) -> str:
    return str(page.input_value(f"input[name={name}]"))


def test_a_pasted_block_is_written_as_it_was_copied(page: Any) -> None:
    said = paste(page, "line1-client_label", '007\tOct-20\t\tExamplia\r\n"B ""x"""\t0-20 cm\r\n')
    assert said.startswith("2 lines pasted")
    assert (cell(page, "line1-client_label"), cell(page, "line1-depth_text")) == ("007", "Oct-20")
    assert (cell(page, "line1-sampled_on"), cell(page, "line1-origin_country")) == ("", "Examplia")
    assert (cell(page, "line2-client_label"), cell(page, "line3-client_label")) == ('B "x"', "")


@pytest.mark.parametrize(
    ("where", "text", "why"),
    [
        ("line1-client_label", "Z\tz\n", "write over 1 cells"),
        ("line2-received_mass_g", "1\t2\n", "2 columns and only 1 fit"),
        ("line2-client_label", '"a\nb"\tx', "two lines of text"),
        ("line2-client_label", "x\n" * 400, "one job takes 300"),
    ],
)
def test_a_block_that_does_not_fit_is_refused_whole(page: Any, where: str, text: str, why: str) -> None:
    page.fill("input[name=line1-client_label]", "kept")
    said = paste(page, where, text)
    assert said.startswith("Nothing was pasted.")
    assert why in said
    assert cell(page, "line1-client_label") == "kept"
    assert cell(page, "line2-client_label") == ""
    assert cell(page, "line_count") == "12"


def test_a_job_is_logged_by_keyboard_with_more_lines_than_the_page_had(page: Any) -> None:
    page.select_option("select[name=client]", index=1)
    page.select_option("select[name=method]", index=1)
    page.check("input[name=sand_by_sieve][value=no]")
    page.fill("input[name=origin_country]", "Examplia")
    page.focus("input[name=line1-client_label]")
    for number in range(1, 15):
        page.keyboard.type(f"Bag {number}")
        page.keyboard.press("Enter")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("document.activeElement.name") == "line14-client_label"
    with page.expect_navigation():
        page.click("button[name=log]")
    # Read from the page: a query made while the driver's loop runs would leave a connection open.
    rows = page.locator("table.figures tbody tr").all_inner_texts()
    assert len(rows) == 14
    assert all(f"Bag {number}\n" in row for number, row in enumerate(rows, start=1))
