"""A submitted batch of three unlike soils beside the blank. All invented."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch, Run
from batches.review import rules as approval
from tests.support import factories

SANDY_G_L = {30: "19.5", 60: "16.0", 5400: "8.5", 86400: "7.0"}
CLAYEY_G_L = {30: "38.5", 60: "37.0", 5400: "29.5", 86400: "22.0"}


@pytest.fixture
def three(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> list[Run]:
    """The runs of a submitted batch: a loam, a sand and a clayey soil beside the blank."""
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5), samples=3)
    portions = [
        factories.portion(factories.prepared(s, technician, at=job.received_at), technician, bench)
        for s in job.samples.all()
    ]
    batch = factories.batch(portions, technician, bench, at=now - timedelta(days=3))
    values = (factories.BLANK_G_L, factories.LOAM_G_L, SANDY_G_L, CLAYEY_G_L)
    for run, readings in zip(batch.runs.order_by("position"), values, strict=True):
        factories.read_run(run, technician, readings, started_at=now - timedelta(days=2))
    work_off()
    batch.refresh_from_db()
    approval.submit(batch, by=technician, at=now)
    return runs_of(batch)


def runs_of(batch: Batch) -> list[Run]:
    return list(Run.objects.filter(batch=batch, is_blank=False).order_by("position"))
