"""A job that is ready for its certificate: two loams, the second reported without figures. All invented."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import Batch
from batches.review import rules as approval
from particles.models import Job, Laboratory
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import settle

WHY_WITHOUT = "The suspension clumped in the first hour; salts were not washed out."


def laboratory() -> Laboratory:
    return Laboratory.objects.create(
        pk=1,
        name="Tarn Moor Soil Laboratory",
        address="4 Kiln Lane, Tarn Moor",
        contact="office@tarnmoor.example",
        invented=True,
    )


def job_of(batch: Batch) -> Job:
    return batch.sample_runs.first().portion.sample.job


def approve(batch: Batch, technician: Any, qa_officer: Any, *, without_figures: int | None = None) -> Job:
    """Hand over, look at everything, decide and sign; `without_figures` is a place in the row."""
    now = timezone.now()
    approval.submit(batch, by=technician, at=now)
    settle(batch, qa_officer)
    for run in batch.sample_runs:
        if run.position == without_figures:
            approval.decide(result_in_force(run), "without figures", note=WHY_WITHOUT, by=qa_officer, at=now)
    approval.approve(batch, by=qa_officer, at=now, secret=SECRET)
    return job_of(batch)


def make_approved_job(
    client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Callable[[], int]
) -> Job:
    laboratory()
    batch = factories.measured_batch(client, clerk, technician, bench, samples=2)
    assert work_off() == 2
    return approve(batch, technician, qa_officer, without_figures=2)
