"""What a tablet fetches the first time it opens a bench; the aim is below 150 kB over the wire."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.contrib.staticfiles import finders

from tests.support import factories
from tests.support.on_tablet import CHROMIUM

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_BYTES = 150_000
FETCHED = """() => ["navigation", "resource"].flatMap((type) => performance.getEntriesByType(type))
    .map((entry) => [entry.name, entry.encodedBodySize])"""


def over_the_wire(address: str, body_bytes: int) -> int:
    """Static texts are sent compressed once collected, not by this test's server; the rest as it came. [bytes]"""
    path = urlsplit(address).path
    if not path.startswith("/static/"):
        return body_bytes
    found = finders.find(path.removeprefix("/static/"))
    assert isinstance(found, str), f"{path} is no static file"
    content = Path(found).read_bytes()
    return len(content) if found.endswith(".woff2") else min(len(content), len(gzip.compress(content)))


def test_a_full_bench_of_nine_cylinders_is_light(
    live_server: Any,
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    as_person: Any,
    require: Any,
) -> None:
    require("browser", CHROMIUM.exists())
    playwright = pytest.importorskip("playwright.sync_api")
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5] * 4)
    cookie = as_person(technician).cookies["sessionid"].value
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        context = browser.new_context(viewport={"width": 820, "height": 1180}, has_touch=True)
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        page = context.new_page()
        page.goto(f"{live_server.url}/batches/{batch.number}/bench/", wait_until="networkidle")
        page.locator(".cylinder").nth(8).wait_for()
        fetched = dict(page.evaluate(FETCHED))
        browser.close()
    weights = {urlsplit(name).path: over_the_wire(name, size) for name, size in fetched.items()}
    kinds = {path.rpartition(".")[2] for path in weights}
    assert {"js", "css", "woff2"} <= kinds, "the whole page was counted"
    assert all(weight > 0 for weight in weights.values()), weights
    assert sum(weights.values()) < MOST_BYTES, weights
