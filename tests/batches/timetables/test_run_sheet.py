"""The run sheet: what is printed of a timetable, and what is not."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from batches.models import BenchDay, Run
from batches.timetables import rules
from batches.timetables.models import KeptTimetable
from particles.models import Laboratory, RegulatedArea
from tests.support import factories
from tests.support.browsing import CHROMIUM, page_as

pytestmark = pytest.mark.django_db(transaction=True)
A4_PT = (595, 842)
"""ISO 216: 210 mm by 297 mm, in points of 1/72 inch."""
COLOURED = """
[...document.querySelectorAll("main, main *")].flatMap((each) => {
  const style = getComputedStyle(each);
  return [style.color, style.backgroundColor, style.borderTopColor, style.borderBottomColor];
}).map((colour) => colour.match(/[\\d.]+/g).map(Number))
  .filter(([r, g, b, a]) => a !== 0 && (r !== g || g !== b)).length
"""


@pytest.fixture
def kept(
    the_client: Any, clerk: Any, technician: Any, bench: Any, asked_day: Callable[..., BenchDay]
) -> KeptTimetable:
    """A batch of three samples, a duplicate of each among them, with its timetable in force."""
    given = {"name": "Example", "address": "1 Lane", "contact": "-", "samples_per_duplicate": 1}
    Laboratory.objects.update_or_create(pk=1, defaults=given)
    factories.more_cylinders(bench, 8)
    job = factories.job(the_client, clerk, samples=3)
    portions = [
        factories.portion(factories.prepared(s, technician), technician, bench) for s in job.samples.all()
    ]
    factories.batch_with_duplicates(portions, technician, bench, at=timezone.now() - timedelta(days=2))
    return rules.keep(asked_day().best, seen=0, by=technician, at=timezone.now())


def test_every_act_has_its_row_with_clock_person_box_and_lines(
    kept: KeptTimetable, technician: Any, as_person: Any
) -> None:
    told = as_person(technician).get("/bench-day/sheet/1/").content.decode()
    acts = kept.found.acts
    for act in acts:
        clock = timezone.localtime(kept.found.day.at(act["at_s"]))
        assert f'<th scope="row">{clock:%H:%M:%S}</th>' in told
    assert told.count('class="tick"') == len(acts)
    starts = sum(act["doing"] == "start" for act in acts)
    assert starts == 6
    lines = told.count('class="value-line"')
    assert lines == 3 * len(acts) + 2 * starts, "value, true time and °C; an opening block is read twice"
    assert f"Timetable 1, kept {timezone.localtime(kept.at):%-d %b %Y, %H:%M:%S}" in told
    assert "Tomas Example" in told


def test_it_tells_no_duplicate_no_bag_and_no_client(
    kept: KeptTimetable, technician: Any, manager: Any, as_person: Any, the_client: Any
) -> None:
    runs = Run.objects.filter(is_blank=False).select_related("portion__sample")
    assert sum(run.is_duplicate for run in runs) == 3
    for who in (technician, manager):
        told = as_person(who).get("/bench-day/sheet/1/").content.decode()
        for run in runs:
            assert run.bench_title in told
            assert run.sample.lab_number not in told
            assert run.sample.client_label not in told
        assert the_client.name not in told
        assert not re.search("duplicate|reference", told)
        rows = re.findall(r"<tr[^>]*>\s*<td class=.number.*?</tr>", told, re.DOTALL)
        shapes = {
            re.sub(r"\d+:\d+:\d+|>\d+<|C\d\d|>[A-Z0-9]{4}<", "", row) for row in rows if "start, read" in row
        }
        assert len(shapes) == 1, "but for clock, cylinder and code, a start looks like every other"


def test_regulated_soil_is_marked_by_batch_and_no_cylinder_apart(
    kept: KeptTimetable, technician: Any, as_person: Any
) -> None:
    browser = as_person(technician)
    plain = browser.get("/bench-day/sheet/1/").content.decode()
    assert "Regulated soil" not in plain
    RegulatedArea.objects.create(country="Examplia", rule="Import permit asked for", listed_on="2026-01-05")
    marked = browser.get("/bench-day/sheet/1/").content.decode()
    batch = Run.objects.filter(is_blank=True).get().batch
    assert f"Regulated soil in {batch.number}:" in marked
    table = re.compile(r"<tbody>.*</tbody>", re.DOTALL)
    assert table.search(marked)[0] == table.search(plain)[0]  # type: ignore[index]


def test_a_sheet_that_is_not_in_force_says_so_and_an_unknown_one_is_not_there(
    kept: KeptTimetable, technician: Any, as_person: Any, asked_day: Any, clerk: Any
) -> None:
    browser = as_person(technician)
    assert "not in force any more" not in browser.get("/bench-day/sheet/1/").content.decode()
    rules.keep(asked_day().best, seen=1, by=technician, at=timezone.now())
    assert "not in force any more" in browser.get("/bench-day/sheet/1/").content.decode()
    assert browser.get("/bench-day/sheet/3/").status_code == 404
    assert as_person(clerk).get("/bench-day/sheet/1/").status_code == 403


@pytest.mark.browser
def test_on_paper_it_is_a4_black_and_white_with_foot_and_numbers_on_every_page(
    kept: KeptTimetable,
    technician: Any,
    live_server: Any,
    require: Any,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    from axe_playwright_python.sync_playwright import Axe
    from pypdf import PdfReader

    require("browser", CHROMIUM.exists())
    with page_as(
        technician, live_server.url, (820, 1180), monkeypatch, is_fault=lambda said: said.type == "error"
    ) as page:
        page.goto("/bench-day/sheet/1/")
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        page.emulate_media(media="print", color_scheme="light")
        assert page.evaluate(COLOURED) == 0
        printed = page.pdf(prefer_css_page_size=True)
    pages = PdfReader(BytesIO(printed)).pages
    assert len(pages) >= 2, "else nothing is known of a second page"
    for number, each in enumerate(pages, start=1):
        size = (round(each.mediabox.width), round(each.mediabox.height))
        assert size == A4_PT
        text = " ".join(each.extract_text().split())
        assert f"Page {number} of {len(pages)}" in text
        assert "Timetable 1, kept" in text
        assert "Reading, as read" in text
