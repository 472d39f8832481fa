"""What only the neighbours of a batch show, and how many questions the pages ask the database."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.computing.record import gather, gather_batch
from batches.models import Flag
from batches.review import rules as approval
from tests.support import factories
from tests.support.reviewing import look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)

SANDY_G_L = {30: "19.5", 60: "16.0", 5400: "8.5", 86400: "7.0"}
NOTHING = "Nothing stands out between the runs"


@pytest.fixture
def read_batch(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Any:
    """Makes a batch with these readings, one set for each run, computed."""

    def made(*values: dict[int, str]) -> Any:
        now = timezone.now()
        job = factories.job(the_client, clerk, at=now - timedelta(days=5), samples=len(values))
        portions = [
            factories.portion(factories.prepared(s, technician, at=job.received_at), technician, bench)
            for s in job.samples.all()
        ]
        batch = factories.batch(portions, technician, bench, at=now - timedelta(days=3))
        for run, readings in zip(
            batch.runs.order_by("position"), (factories.BLANK_G_L, *values), strict=True
        ):
            factories.read_run(run, technician, readings, started_at=now - timedelta(days=2))
        work_off()
        batch.refresh_from_db()
        return batch

    return made


def test_copied_readings_are_seen_by_technician_and_reviewer(
    read_batch: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    batch = read_batch(factories.LOAM_G_L, factories.LOAM_G_L)
    first, second = batch.sample_runs.order_by("position")
    approval.submit(batch, by=technician, at=timezone.now())
    names = (first.bench_title, second.bench_title)
    shown = as_person(technician).get(f"/batches/{batch.number}/").content.decode()
    same = "4 readings in a row from 30 s on are the same in {} and {}."
    assert same.format(*names) in shown
    across = shown[shown.index("Seen across the batch") :]
    assert f'href="/runs/{second.pk}/">{names[1]}' in across
    look_at_quality(batch, qa_officer)
    rows = as_person(qa_officer).get(f"/review/{batch.number}/").context["causes"]
    [copied] = [row for row in rows if row.cause.kind == "readings_copied"]
    assert copied.cause.sentence == same.format(first.title, second.title)
    assert set(copied.runs) == {first, second}
    assert not Flag.objects.filter(code="readings_copied").exists(), "computed on the page, never stored"


def test_exchanged_rows_are_named_with_their_number(read_batch: Any, technician: Any, as_person: Any) -> None:
    slipped = factories.LOAM_G_L | {60: SANDY_G_L[60]}, SANDY_G_L | {60: factories.LOAM_G_L[60]}
    batch = read_batch(*slipped)
    shown = as_person(technician).get(f"/batches/{batch.number}/").content.decode()
    # The same two curves as with the first reading alone exchanged, which nothing here tells apart.
    assert "with their readings from 60 s on exchanged" in shown
    assert NOTHING not in shown


def test_different_soils_read_in_order_show_nothing(read_batch: Any, technician: Any, as_person: Any) -> None:
    batch = read_batch(factories.LOAM_G_L, SANDY_G_L)
    assert NOTHING in as_person(technician).get(f"/batches/{batch.number}/").content.decode()


def test_nothing_is_said_before_the_readings_are_complete(
    running: Any, technician: Any, as_person: Any
) -> None:
    shown = as_person(technician).get(f"/batches/{running.batch.number}/").content.decode()
    assert "Seen across the batch" not in shown


def test_a_run_that_cannot_be_computed_is_named_as_left_out(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    run = batch.sample_runs.get()
    typed = {"slot_s": 60, "state": "read", "reading": "1.02", "elapsed_s": 60, "temperature_c": "20.0"}
    answer = factories.send(
        "reading", technician, run=run.pk, source="paper", reason="Clock misread.", **typed
    )
    assert answer.stored, answer.sentence
    shown = as_person(technician).get(f"/batches/{batch.number}/").content.decode()
    assert "Left out, since nothing can be computed from it" in shown


def test_a_batch_is_gathered_as_its_runs_are(read_batch: Any) -> None:
    batch = read_batch(factories.LOAM_G_L, SANDY_G_L)
    together = gather_batch(batch)
    assert [each.record for each in together] == [gather(each.run) for each in together]
    assert all(each.complete for each in together)


@pytest.mark.parametrize("page", ["/review/{}/", "/batches/{}/"])
def test_more_runs_ask_no_more_questions(
    read_batch: Any, technician: Any, qa_officer: Any, as_person: Any, page: str
) -> None:
    counts = []
    for soils in ((factories.LOAM_G_L,), (factories.LOAM_G_L, SANDY_G_L, factories.LOAM_G_L)):
        batch = read_batch(*soils)
        approval.submit(batch, by=technician, at=timezone.now())
        client = as_person(qa_officer)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(page.format(batch.number)).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_texture_by_feel_reaches_the_arithmetic(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any
) -> None:
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5))
    sample = factories.prepared(
        job.samples.get(), technician, at=now - timedelta(days=5), field_texture="silty clay"
    )
    batch = factories.batch(
        [factories.portion(sample, technician, bench)], technician, bench, at=now - timedelta(days=3)
    )
    cleared = factories.LOAM_G_L | {5400: "6.0", 86400: "5.0"}
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else cleared
        factories.read_run(run, technician, values, started_at=now - timedelta(days=2))
    run = batch.sample_runs.get()
    assert gather(run).field_clayey is True
    work_off()
    assert Flag.objects.filter(result__run=run, code="flocculation_suspected").count() == 1
