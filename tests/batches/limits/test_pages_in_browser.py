"""The pages of quality control in a real browser, on a tablet and a desk: nothing sideways, nothing for axe to find."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from batches.limits.keys import ChartKey, Quantity
from batches.limits.rules import enter_limits
from batches.review import rules as approval
from particles.models import Client, MethodEditionRecord, ReferenceSoil
from tests.support import factories
from tests.support.browsing import CHROMIUM, WIDER, page_as

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def laboratory_with_charts(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, bench: Any, work_off: Any
) -> ChartKey:
    """Three batches handed over, each with a reference soil; the last one lies far out. All invented."""
    at = timezone.now() - timedelta(days=20)
    own = Client.objects.create(name="The laboratory itself (invented)", address="1 Lane")
    bag = factories.prepared(factories.job(own, clerk, at=at).samples.get(), technician, at=at)
    soil = ReferenceSoil.enter(
        bag, name="Sandbank", kind="sandy", container="Bin 3, 20 kg (invented)", by=manager, at=at
    )
    method = MethodEditionRecord.objects.get(code=factories.FOUR_READINGS)
    key = ChartKey(Quantity.REFERENCE_CLAY, soil.pk, MethodEditionRecord.roots()[method.pk])
    given = {"seen": 0, "by": manager, "at": at, "in_force_from": at, "reason": "The assigned value of 2026."}
    enter_limits(key, centre=Decimal("16.5"), sd=Decimal("0.9"), document="Runs of 2025 (invented)", **given)
    factories.more_cylinders(bench, 14)
    for days, off_g_l in ((9, 0.0), (6, 0.3), (3, 2.0)):
        planned_at = timezone.now() - timedelta(days=days)
        job = factories.job(the_client, clerk, at=planned_at - timedelta(days=1))
        portion = factories.portion(factories.prepared(job.samples.get(), technician), technician, bench)
        batch = factories.batch_with_duplicates([portion], technician, bench, at=planned_at)
        for run in batch.runs.order_by("position"):
            values = factories.BLANK_G_L if run.is_blank else factories.off_by(off_g_l * run.is_reference)
            factories.read_run(run, technician, values, started_at=planned_at + timedelta(hours=20))
        work_off()
        batch.refresh_from_db()
        approval.submit(batch, by=technician, at=timezone.now())
        bench.cylinders = bench.cylinders[4:]
    return key


@pytest.fixture(params=[(820, 1180), (1440, 900)], ids=["tablet", "desk"])
def page(
    request: pytest.FixtureRequest,
    live_server: Any,
    qa_officer: Any,
    require: Callable[[str, bool], None],
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Any]:
    require("browser", CHROMIUM.exists())
    with page_as(
        qa_officer,
        live_server.url,
        request.param,
        monkeypatch,
        is_fault=lambda said: said.type == "error",
    ) as opened:
        yield opened


def looked_at(page: Any, address: str, heading: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page.goto(address)
    page.locator("h1", has_text=heading).wait_for()
    assert page.evaluate(WIDER) == 0, f"{address} is wider than the screen"
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_an_officer_finds_the_point_that_waits_and_answers_it(
    laboratory_with_charts: ChartKey, page: Any
) -> None:
    address = f"/quality/charts/{laboratory_with_charts.address}/"
    looked_at(page, "/quality/soils/", "Reference soils")
    looked_at(page, "/quality/", "Quality")
    page.locator("tbody tr").first.get_by_role("link", name="Sandbank, clay").click()
    page.locator("figure.chart").scroll_into_view_if_needed()
    page.locator("figure.chart svg, figure.chart canvas").first.wait_for()
    looked_at(page, address, "Sandbank, clay")
    page.get_by_label("is left out: a cause was found").check()
    page.get_by_label("What was looked at, and found").fill("The wrong bin was opened; sheet and tray agree.")
    page.get_by_role("button", name="Keep the answer").click()
    page.locator(".flag-done").wait_for()
    assert page.get_by_text("To answer").count() == 0
    assert page.get_by_text("The wrong bin was opened").count() > 0
