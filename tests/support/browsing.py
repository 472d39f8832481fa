"""A page in a real Chromium, opened as one person."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client

CHROMIUM = Path("/usr/bin/chromium")

WIDER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
"""How many pixels a page is wider than its screen."""


@contextmanager
def page_as(
    person: Any,
    address: str,
    size: tuple[int, int],
    monkeypatch: pytest.MonkeyPatch,
    *,
    is_fault: Callable[[Any], bool],
) -> Iterator[Any]:
    """
    Open a page with a person's log-in, at one size of the screen; what it complained of fails when it is closed.

    Parameters
    ----------
    address : of the server, which relative addresses begin with.
    size : width and height. [px]
    is_fault : whether a message of the console counts, beside errors of scripts, which always do.
    """
    playwright = pytest.importorskip("playwright.sync_api")
    session = Client()
    session.force_login(person)
    cookie = {"name": "sessionid", "value": session.cookies["sessionid"].value, "url": address}
    monkeypatch.setitem(
        os.environ, "DJANGO_ALLOW_ASYNC_UNSAFE", "1"
    )  # the driver keeps a loop in this thread
    width, height = size
    faults: list[str] = []
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        context = browser.new_context(viewport={"width": width, "height": height}, base_url=address)
        context.add_cookies([cookie])
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda said: faults.append(said.text) if is_fault(said) else None)
        yield page
        browser.close()
        connection.close()  # the one of the driver's loop; the thread itself has another
    assert faults == []


CUT_OFF = """() => {
  const wide = document.documentElement.clientWidth;
  const shown = [...document.querySelectorAll("main td, main th, main a, main button, main dd")]
    .filter((each) => each.checkVisibility({ contentVisibilityAuto: true }) && !each.closest("thead"));
  const beyond = shown.filter((each) => {
    const box = each.getBoundingClientRect();
    const frame = each.closest(".table-scroll")?.getBoundingClientRect();
    return box.width > 1 && (box.right > (frame?.right ?? wide) + 1 || box.left < -1);
  });
  return beyond.map((each) => each.textContent.trim().replace(/\\s+/g, " ").slice(0, 60));
}"""
"""Texts of cells, links and buttons that reach beyond the edge of the screen or of what scrolls around them."""


def cut_off(page: Any) -> list[str]:
    """What of a page is cut off at the right or left: cells, links and buttons by their text."""
    found: list[str] = page.evaluate(CUT_OFF)
    return found
