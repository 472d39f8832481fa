"""The soak with its clock: since when, when ready, and from when too long by the edition."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch, Flag
from batches.planning.rules import start_soak
from batches.quality.judged_batch import Severity
from batches.quality.verdict import verdict_of
from batches.review.rules import submit
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def soaking(prepared_sample: Any, technician: Any, bench: Any) -> Any:
    """A batch that has soaked for so many hours."""

    def made(hours: float) -> Batch:
        portion = factories.portion(prepared_sample, technician, bench)
        since = timezone.now() - timedelta(hours=hours)
        batch = factories.batch([portion], technician, bench, at=since, filled=False)
        start_soak(batch, by=technician, at=since)
        return batch

    return made


def said(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%a %-d %b, %H:%M}"


@pytest.mark.parametrize(
    ("hours", "words", "too_long"),
    [
        (2.0, "in <b>10.0 h</b>; the method asks for 12 h", False),
        (13.0, "mix, transfer, fill to the line", False),
        (71.9, "mix, transfer, fill to the line", False),
        (72.1, "mix, transfer, fill to the line", True),
    ],
)
def test_bench_fault_32_the_page_says_since_when_when_ready_and_when_too_long(
    soaking: Any, technician: Any, as_person: Any, hours: float, words: str, too_long: bool
) -> None:
    batch = soaking(hours)
    shown = as_person(technician).get(f"/batches/{batch.number}/").content.decode()
    since = batch.soak_started_at
    assert since is not None
    assert f"{said(since)}, <b>{hours:.1f} h</b>" in shown
    assert said(since + timedelta(hours=12)) in shown
    assert f"{said(since + timedelta(hours=72))}, after 72 h" in shown
    assert words in shown
    assert ("Soaked too long" in shown) is too_long
    assert (f"Soaked for {hours:.1f} h; the method allows 72 h" in shown) is too_long


@pytest.mark.parametrize(("hours", "too_long"), [(71.9, False), (72.1, True)])
def test_bench_fault_32_a_soak_too_long_is_recorded_and_told_to_the_reviewer(
    prepared_sample: Any, technician: Any, bench: Any, work_off: Any, hours: float, too_long: bool
) -> None:
    now = timezone.now()
    portion = factories.portion(prepared_sample, technician, bench)
    batch = factories.batch([portion], technician, bench, at=now - timedelta(days=6), filled=False)
    start_soak(batch, by=technician, at=now - timedelta(days=6))
    filled_at = now - timedelta(days=6) + timedelta(hours=hours)
    batch.disperse(by=technician, at=filled_at, mixing_minutes=5)
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=now - timedelta(days=2))
    work_off()
    flags = Flag.objects.filter(code="soak_long")
    assert [each.sentence for each in flags] == (
        ["The soak lasted 72.1 h; the method allows 72 h."] if too_long else []
    )
    batch.refresh_from_db()
    [line] = [each for each in verdict_of(batch).lines if each.about == "soak"]
    assert line.severity is (Severity.WARN if too_long else Severity.PASSED)
    submit(batch, by=technician, at=now)


def test_a_soak_that_cannot_start_is_said_beside_its_button(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    portion = factories.portion(prepared_sample, technician, bench)
    batch = factories.batch_with_duplicates([portion], technician, bench, at=timezone.now(), filled=False)
    answer = as_person(technician).post(f"/batches/{batch.number}/soak/")
    assert answer.status_code == 409
    shown = answer.content.decode()
    assert shown.index("Not weighed yet: ") < shown.index("The soak starts now"), "and the way to go on"
    batch.refresh_from_db()
    assert batch.state == "planned"
