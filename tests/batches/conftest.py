"""Batches at the points of their way where the screens of this folder are tried. All figures invented."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from batches.causes.kept import find_for_pages
from batches.models import Batch
from batches.review import rules as approval
from batches.review.examination import examine
from particles.distribution.causes.cause import Cause
from tests.support import factories
from tests.support.on_tablet import CHROMIUM
from tests.support.reviewing import look_at_quality


@pytest.fixture
def as_person() -> Any:
    """A browser in which this person is logged in."""

    def logged_in(person: Any) -> Client:
        client = Client()
        client.force_login(person)
        return client

    return logged_in


@pytest.fixture
def prepared_sample(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    job = factories.job(the_client, clerk)
    return factories.prepared(job.samples.get(), technician, field_texture="clay loam")


@pytest.fixture
def filled_batch(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Any:
    """Two portions and the blank stand filled since yesterday; nothing is started."""
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=4), samples=2)
    portions = [
        factories.portion(factories.prepared(s, technician, at=now - timedelta(days=4)), technician, bench)
        for s in job.samples.all()
    ]
    return factories.batch(portions, technician, bench, at=now - timedelta(days=3))


@pytest.fixture
def running(filled_batch: Any, technician: Any) -> Any:
    """The first sample's cylinder of a batch, started the day before yesterday."""
    run = filled_batch.runs.get(position=1)
    started_at = timezone.now() - timedelta(days=2)
    factories.stored("start", technician, run=run.pk, started_at=started_at.isoformat(), source="paper")
    return run


@pytest.fixture
def measured(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Any:
    """One sample and the blank, read to the end and computed, not yet handed over."""
    made = factories.measured_batch(the_client, clerk, technician, bench)
    work_off()
    return made


@pytest.fixture
def submitted_batch(measured: Any, technician: Any) -> Any:
    approval.submit(measured, by=technician, at=timezone.now())
    return measured


@pytest.fixture
def stopped_batch(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Any:
    """Submitted; its one run rises by more than a reading can, which is a stop."""
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5))
    sample = factories.prepared(job.samples.get(), technician, at=now - timedelta(days=5))
    made = factories.batch(
        [factories.portion(sample, technician, bench)], technician, bench, at=now - timedelta(days=3)
    )
    rising = factories.LOAM_G_L | {30: "20.0", 60: "24.5"}
    for run in made.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else rising
        factories.read_run(run, technician, values, started_at=now - timedelta(days=2))
    work_off()
    made.refresh_from_db()
    approval.submit(made, by=technician, at=timezone.now())
    return made


@pytest.fixture
def a_reading() -> Any:
    """The fields of one reading as a tablet sends them."""

    def fields(run: Any, **other: Any) -> dict[str, str]:
        typed = {
            "run": run.pk,
            "slot_s": 30,
            "state": "read",
            "reading": "26.5",
            "elapsed_s": "30.4",
            "temperature_c": "20.0",
            "source": "tablet",
            "reason": "",
        }
        return {name: str(value) for name, value in (typed | other).items()}

    return fields


@pytest.fixture
def send_entry(as_person: Any, technician: Any) -> Any:
    """Post one entry to the doorway of the tablets, as the technician unless told otherwise."""

    def send(kind: str, content: Any, *, by: Any = None, entry_id: Any = None, **more: Any) -> Any:
        body = {"entry_id": str(entry_id or uuid4()), "kind": kind, "content": content} | more
        return as_person(by or technician).post("/bench/entries/", body, content_type="application/json")

    return send


@pytest.fixture
def tablet_faults() -> list[str]:
    """Errors seen in pages; a tablet's test fails on any."""
    return []


@pytest.fixture
def tablet(
    live_server: Any,
    technician: Any,
    as_person: Any,
    filled_batch: Any,
    require: Any,
    tablet_faults: list[str],
) -> Iterator[Any]:
    """The bench of a filled batch, opened by the technician; an error in the page fails the test."""
    require("browser", CHROMIUM.exists())
    playwright = pytest.importorskip("playwright.sync_api")
    cookie = as_person(technician).cookies["sessionid"].value
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        context = browser.new_context(viewport={"width": 820, "height": 1180}, has_touch=True)
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        context.on("weberror", lambda fault: tablet_faults.append(str(fault.error)))
        context.on(
            "console",
            lambda said: tablet_faults.append(said.text) if "Security Policy" in said.text else None,
        )
        page = context.new_page()
        page.goto(f"{live_server.url}/bench/")
        page.locator("#next-number").wait_for()
        yield page
        page.goto("about:blank")
        page.wait_for_timeout(500)  # what was under way is answered before the database goes
        browser.close()
    assert tablet_faults == []


@pytest.fixture
def plant(
    monkeypatch: pytest.MonkeyPatch, the_client: Any, clerk: Any, technician: Any, qa_officer: Any,
    bench: Any, work_off: Any,
) -> Callable[[Cause], Batch]:  # fmt: skip
    """The batch of two loams under review, in which from now on this cause is found."""

    def made(cause: Cause) -> Batch:
        monkeypatch.setattr("batches.causes.kept.find_causes", lambda *_: (cause,))
        batch = Batch.objects.first()
        if batch is None:
            batch = factories.measured_batch(the_client, clerk, technician, bench, samples=2)
            work_off()
            approval.submit(batch, by=technician, at=timezone.now())
            look_at_quality(batch, qa_officer)
        find_for_pages(batch, examine(batch), at=timezone.now())
        return Batch.objects.get(pk=batch.pk)

    return made
