"""What a test does with a tablet, a real Chromium, and what it asks the laboratory meanwhile."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.db import connection
from django.utils import timezone

from tests.support import factories

CHROMIUM = Path("/usr/bin/chromium")


def told(page: Any, words: str) -> None:
    page.locator("#kept", has_text=words).wait_for()


def in_laboratory(work: Any) -> Any:
    """In a thread of its own: the driver's loop lives in this one."""

    def alone() -> Any:
        try:
            return work()
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as thread:
        return thread.submit(alone).result()


def kept(model: Any, **where: Any) -> list[Any]:
    """Rows of the laboratory."""
    return in_laboratory(lambda: list(model.objects.filter(**where).order_by("pk")))


def soon_kept(page: Any, model: Any, at_least: int = 1, **where: Any) -> list[Any]:
    """The same, once there are so many: eight seconds at most."""
    for _ in range(80):
        if len(found := kept(model, **where)) >= at_least:
            return found
        page.wait_for_timeout(100)
    raise AssertionError("the laboratory did not get it within 8 s")


def press(page: Any, keys: str) -> None:
    for key in keys:
        page.click(f'[data-key="{key}"]')


def type_reading(page: Any, reading: str, temperature_c: str) -> None:
    press(page, reading)
    page.click('[data-switch="temperature_c"]')
    press(page, temperature_c)
    page.click("#keep")


def start_first(page: Any) -> None:
    """START of the cylinder that the page proposes, answered by the laboratory."""
    page.click("#start")
    page.wait_for_selector("#read-panel:not([hidden])")
    told(page, "kept by the laboratory")


def started_ago(page: Any, person: Any, run: Any, seconds: float) -> None:
    """A cylinder that this person started so long ago, as the page finds it when it is opened again."""
    at = timezone.now() - timedelta(seconds=seconds)
    fields = {"run": run.pk, "started_at": at.isoformat(), "source": "tablet"}
    in_laboratory(lambda: factories.stored("start", person, **fields))
    page.reload()
    page.locator("#entry-title", has_text="since the start").wait_for()


def soon_true(page: Any, script: str) -> None:
    """An asynchronous question to the page, asked until it is answered with true: ten seconds at most."""
    for _ in range(100):
        if page.evaluate(script):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"not true within 10 s: {script}")


def bench_is_kept(page: Any) -> None:
    """Wait until the tablet can open this page without a network."""
    soon_true(
        page,
        """async () => {
            if (!navigator.serviceWorker.controller) return false;
            for (const name of await caches.keys()) {
              const urls = (await (await caches.open(name)).keys()).map((r) => new URL(r.url).pathname);
              if (urls.some((u) => u.endsWith("/bench/")) && urls.some((u) => u.endsWith("/idb.js"))
                  && urls.some((u) => u.endsWith("/bench/state/"))) return true;
            }
            return false;
        }""",
    )


def reload_offline(page: Any) -> None:
    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector('#bench[data-served="tablet"]', state="attached")
    page.locator("#notice", has_text="does not answer").wait_for()
