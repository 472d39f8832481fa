"""One bench for all batches in the room, in a real Chromium: what is due, and whose reading it becomes."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch, Reading, RunStart
from batches.timetables import rules as timetables
from tests.support import factories
from tests.support.browsing import WIDER
from tests.support.on_tablet import in_laboratory, kept, press, soon_kept

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def another_batch(the_client: Any, clerk: Any, technician: Any, bench: Any, *, samples: int) -> Batch:
    bench.cylinders = bench.cylinders[3:]
    job = factories.job(the_client, clerk, at=timezone.now() - timedelta(days=4), samples=samples)
    portions = [
        factories.portion(factories.prepared(s, technician), technician, bench) for s in job.samples.all()
    ]
    return factories.batch(portions, technician, bench, at=timezone.now() - timedelta(days=2))


@pytest.fixture
def yesterdays(filled_batch: Any, the_client: Any, clerk: Any, technician: Any, bench: Any) -> Batch:
    """A batch whose 24 h reading is due in half a minute, all others read; beside the filled one. All invented."""
    made = another_batch(the_client, clerk, technician, bench, samples=1)
    for run in made.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        started_at = timezone.now() - timedelta(days=1, seconds=-25 - 15 * run.position)
        read = {slot_s: value for slot_s, value in values.items() if slot_s < 86_400}
        factories.read_run(run, technician, read, started_at=started_at)
    return made


def timetable_in_force(batches: list[Batch], technician: Any, first_start_at: datetime) -> None:
    """Of the technician alone, who is always there."""
    at = timezone.now()
    hours = {timezone.localdate(at) + timedelta(days=n): [(0, 1440)] for n in range(3)}
    asked = timetables.Asked(
        batches=batches,
        hours={technician.pk: hours},
        pace="comfortable",
        slide_pct=5.0,
        first_start_at=first_start_at,
        as_typed={str(technician.pk): {}},
    )
    day = timetables.ask(asked, by=technician, at=at)
    timetables.keep(day.best, seen=0, by=technician, at=at)


def due(tablet: Any) -> list[str]:
    """Cylinder and what, of each line of the list, in its order."""
    tablet.locator("#due-list li").first.wait_for()
    return tablet.locator("#due-list .due-what").all_inner_texts()  # type: ignore[no-any-return]


def test_yesterdays_last_readings_stand_beside_todays_starts_and_go_to_their_own_batch(
    yesterdays: Batch, tablet: Any
) -> None:
    titles = tablet.locator(".rack-name").all_inner_texts()
    assert [re.search(r"B\d\d-\d{4}", title).group() for title in titles] == sorted(  # type: ignore[union-attr]
        batch.number for batch in kept(Batch)
    )
    blank, sample = in_laboratory(
        lambda: list(yesterdays.runs.order_by("position").values_list("cylinder__serial", flat=True))
    )
    assert due(tablet) == [f"{blank}, 24 h", f"{sample}, 24 h"]
    tablet.locator("#due-list button").first.click()
    tablet.locator("#entry-title", has_text=f"Cylinder {blank}").wait_for()
    tablet.locator("#next-verb", has_text="Read now").wait_for(timeout=90_000)
    assert tablet.inner_text("#next-number") == blank
    press(tablet, "4.5")
    tablet.click('[data-switch="temperature_c"]')
    press(tablet, "20.0")
    tablet.click("#keep")
    reading = soon_kept(tablet, Reading, 7)[-1]
    assert in_laboratory(lambda: (reading.run.batch.number, reading.run.cylinder.serial, reading.slot_s)) == (
        yesterdays.number,
        blank,
        86_400,
    )


def test_the_tablet_follows_the_timetable(filled_batch: Any, tablet: Any, technician: Any) -> None:
    in_laboratory(
        lambda: timetable_in_force([filled_batch], technician, timezone.now() + timedelta(seconds=62))
    )
    tablet.reload()
    tablet.locator("#next-verb", has_text="Next start").wait_for()
    first = tablet.inner_text("#next-number")
    assert due(tablet)[0] == f"start {first}"
    assert len(due(tablet)) >= 3, "each cylinder has its start"
    tablet.locator("#next-verb", has_text="Stir it").wait_for(timeout=90_000)
    assert tablet.inner_text("#next-number") == first
    tablet.locator("#next-verb", has_text="Start").and_(
        tablet.locator("#next-verb", has_not_text="Next")
    ).wait_for(timeout=70_000)
    tablet.click("#start")
    [start] = soon_kept(tablet, RunStart)
    assert in_laboratory(lambda: start.run.cylinder.serial) == first
    tablet.locator("#due-list li", has_text=f"{first}, 30 s").wait_for()
    assert f"start {first}" not in due(tablet)


def test_a_batch_that_is_filled_meanwhile_stands_there_without_a_reload(
    tablet: Any, the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    assert tablet.locator(".cylinder").count() == 3
    in_laboratory(lambda: another_batch(the_client, clerk, technician, bench, samples=2))
    tablet.evaluate("() => window.dispatchEvent(new Event('online'))")
    tablet.locator(".rack-name").nth(1).wait_for()
    assert tablet.locator(".cylinder").count() == 6


@pytest.mark.parametrize("size", [(390, 844), (820, 1180), (1440, 900)], ids=["telephone", "tablet", "desk"])
def test_it_fits_and_axe_finds_nothing_also_with_a_question_and_panels_open(
    yesterdays: Batch, tablet: Any, size: tuple[int, int]
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    tablet.set_viewport_size({"width": size[0], "height": size[1]})
    tablet.reload()
    tablet.locator("#due-list button").first.click()
    press(tablet, "45")
    tablet.click('[data-switch="temperature_c"]')
    press(tablet, "31")
    tablet.click("#keep")
    tablet.locator("#ask").wait_for()
    for panel in ("#missed", "#throw-panel", "#stir-panel", "#void-panel"):
        tablet.evaluate(f"() => {{ document.querySelector('{panel}').open = true; }}")
    assert tablet.evaluate(WIDER) == 0
    found = Axe().run(tablet)
    assert found.violations_count == 0, found.generate_report()
