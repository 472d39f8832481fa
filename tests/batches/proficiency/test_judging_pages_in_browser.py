"""The pages of rounds and readers in a real Chromium: nothing runs out of the side, and axe finds nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.utils import timezone

from batches.models import AssignedValue, Batch
from batches.proficiency import rules
from batches.proficiency.models import RoundLock
from batches.readers.differences import Comparison
from tests.support import factories
from tests.support.browsing import CHROMIUM, page_as
from tests.support.on_tablet import in_laboratory

pytestmark = pytest.mark.django_db(transaction=True)
SIZES = {"desk": (1440, 900), "tablet": (820, 1180)}


@pytest.fixture
def scored(lock: RoundLock, links: Any, qa_officer: Any) -> RoundLock:
    """One fraction far off and not answered, one fine, one answered; participants given for one."""
    values = {
        "clay": ("5", [20.1, 19.8, 20.4, 21.0, 19.5, 20.2, 30.0]),
        "sand": ("70", []),
        "silt": ("0", []),
    }
    for fraction, (value_pct, participants) in values.items():
        sand = lock.figures[0]["figures"]["sand"]["value_pct"]
        rules.enter_assigned(
            links[0],
            fraction=fraction,
            value_pct=round(sand, 1) if fraction == "sand" else value_pct,
            sigma_pt_pct="1.5",
            uncertainty_pct="0.6",
            participants_pct=participants,
            reason="",
            by=qa_officer,
            at=timezone.now(),
        )
    rules.answer(
        AssignedValue.objects.get(fraction="silt"),
        cause="The line of another soil was typed from the report.",
        action="Typed anew by Quinn before the end of the week.",
        by=qa_officer,
        at=timezone.now(),
    )
    return lock


@pytest.fixture
def second_readings(the_client: Any, clerk: Any, technician: Any, bench: Any) -> Batch:
    """A batch being read whose late readings were read by somebody else too."""
    other = get_user_model().objects.create(username="tilda", first_name="Tilda", roles=["technician"])
    more = factories.more_cylinders
    more(bench, 12)
    bench.cylinders = bench.cylinders[6:]
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5), samples=2)
    portions = [
        factories.portion(factories.prepared(s, technician, at=now - timedelta(days=5)), technician, bench)
        for s in job.samples.all()
    ]
    batch = factories.batch(portions, technician, bench, at=now - timedelta(days=3))
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=now - timedelta(days=2))
        typed = {"slot_s": 5400, "elapsed_s": "5404", "source": "paper"}
        factories.stored("second reading", other, run=run.pk, reading=f"{float(values[5400]) + 1}", **typed)
    return batch


@pytest.fixture(params=SIZES, ids=list(SIZES))
def judging(
    live_server: Any,
    qa_officer: Any,
    require: Any,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Any]:
    """Opens a page as the QA officer at one of the sizes, and fails on what axe finds or what runs out of the side."""
    require("browser", CHROMIUM.exists())
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    with page_as(
        qa_officer,
        live_server.url,
        SIZES[request.param],
        monkeypatch,
        is_fault=lambda said: "Policy" in said.text,
    ) as page:

        def look(path: str, shot: Path) -> Any:
            page.goto(path)
            page.screenshot(path=str(shot / f"{path.strip('/').replace('/', '-')}.png"), full_page=True)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (
                "no sideways scrolling"
            )
            found = axe.run(page).response["violations"]
            assert [(each["id"], len(each["nodes"])) for each in found] == [], path
            return page

        yield look


def test_the_pages_of_a_round_are_readable_at_both_sizes(
    scored: RoundLock, judging: Any, tmp_path: Path
) -> None:
    page = judging("/rounds/", tmp_path)
    assert "1 due" in page.inner_text("main")
    page = judging(f"/rounds/{scored.round_id}/", tmp_path)
    shown = page.inner_text("main")
    for words in ("clay: unsatisfactory", "robust mean", "Looked at and found."):
        assert words in shown


def test_the_page_of_the_readers_is_readable_at_both_sizes(
    second_readings: Batch, judging: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pairs = [Comparison("Ada Example", "Cleo Example", 0.5 + 0.5 * (n % 2)) for n in range(10)]
    pairs += [Comparison("Ada Example", "Ben Example", 0.5 * (n % 2)) for n in range(10)]
    monkeypatch.setattr("batches.readers.views.comparisons", lambda _rows: pairs)
    page = judging("/readers/", tmp_path)
    assert "Cleo Example reads constantly higher than the others" in page.inner_text("main")
    assert page.get_by_text(", beyond").count() == 3
    run = in_laboratory(lambda: second_readings.runs.get(position=1).pk)
    assert "more than two people may differ" in judging(f"/runs/{run}/", tmp_path).inner_text("main")
