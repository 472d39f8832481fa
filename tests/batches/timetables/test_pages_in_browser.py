"""The pages of the bench day in a browser, from a telephone to a desk: nothing sideways, nothing for axe to find."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import BenchDay
from batches.timetables import rules
from tests.support import factories
from tests.support.browsing import CHROMIUM, WIDER, page_as

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def room(
    the_client: Any, clerk: Any, technician: Any, bench: Any, filled_batch: Any, started: Callable[..., Any]
) -> Any:
    """A batch of which one cylinder runs, and a second one that is filled. All invented."""
    started(1, 900)
    bench.cylinders = bench.cylinders[3:]
    job = factories.job(the_client, clerk, samples=2)
    portions = [
        factories.portion(factories.prepared(s, technician), technician, bench) for s in job.samples.all()
    ]
    factories.batch(portions, technician, bench, at=timezone.now() - timedelta(days=1))
    return filled_batch


@pytest.fixture(params=[(390, 844), (820, 1180), (1440, 900)], ids=["telephone", "tablet", "desk"])
def page(
    request: pytest.FixtureRequest,
    live_server: Any,
    technician: Any,
    require: Callable[[str, bool], None],
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Any]:
    require("browser", CHROMIUM.exists())
    with page_as(
        technician,
        live_server.url,
        request.param,
        monkeypatch,
        is_fault=lambda said: said.type == "error" and "422" not in said.text,  # a form that is shown again
    ) as opened:
        yield opened


def looked_at(page: Any, heading: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page.locator("h1", has_text=heading).wait_for()
    assert page.evaluate(WIDER) == 0, f"{page.url} is wider than the screen"
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_a_day_is_planned_sought_kept_and_planned_again(room: Any, page: Any, technician: Any) -> None:
    page.goto("/bench-day/")
    looked_at(page, "Bench day")
    page.get_by_role("link", name="Plan a bench day").first.click()
    looked_at(page, "Plan a bench day")
    for box in page.get_by_label("Batches").get_by_role("checkbox").all():
        box.check()
    for field in page.locator("input[name^=hours_]").all():
        field.fill("00:00-24:00")
    page.get_by_role("button", name="Find a timetable").click()
    looked_at(page, "A timetable for the bench")
    day = BenchDay.objects.get()
    first = page.get_by_text("Waits for a worker")
    first.wait_for()
    rules.search(day.pk, at=timezone.now(), seconds=1.0)
    page.get_by_text("The search has ended.").wait_for()  # the page has asked by itself
    looked_at(page, "A timetable for the bench")
    page.get_by_role("button", name="Keep this timetable").click()
    page.get_by_text("Timetable 1 is in force.").wait_for()
    looked_at(page, "Bench day")
    page.goto(f"/batches/{room.number}/")
    looked_at(page, "Batch")
    page.get_by_text("by timetable 1").wait_for()
    page.goto("/batches/")
    looked_at(page, "Batches")
    page.goto("/bench-day/calendar/")
    looked_at(page, "My calendar")
    page.get_by_role("button", name="Make an address").click()
    looked_at(page, "The address of my calendar")
    page.goto("/bench-day/")
    page.get_by_role("button", name="I am late").click()
    page.get_by_text("Planned again from now: timetable 2 is in force.").wait_for()
    looked_at(page, "A timetable for the bench")


def test_what_was_typed_wrongly_is_said_beside_its_field(room: Any, page: Any) -> None:
    page.goto("/bench-day/new/")
    page.locator("input[name^=hours_]").first.fill("8-12")
    page.get_by_label("First start not before").fill("25:00")
    page.get_by_role("button", name="Find a timetable").click()
    page.get_by_text("“8” is not a clock time. Write it like 08:00.").wait_for()
    page.get_by_text("“25:00” is not a clock time. Write it like 08:00.").wait_for()
    looked_at(page, "Plan a bench day")
