"""A reference soil of the laboratory's own, and a batch with it that is handed over. All invented."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch
from batches.review import rules as approval
from particles.models import Client, ReferenceSoil
from tests.support import factories

LONG_AGO = timedelta(days=9)


@pytest.fixture
def soil(bench: Any, clerk: Any, technician: Any, manager: Any) -> ReferenceSoil:
    own = Client.objects.create(name="The laboratory itself (invented)", address="1 Lane")
    at = timezone.now() - LONG_AGO
    bag = factories.prepared(factories.job(own, clerk, at=at).samples.get(), technician, at=at)
    return ReferenceSoil.enter(
        bag, name="Sandbank", kind="sandy", container="Bin 3 (invented)", by=manager, at=at
    )


@pytest.fixture
def handed_over(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Any:
    """A batch of one sample with its duplicate, read, computed and handed over."""

    def made(*, reference_off_g_l: float = 0.0, blank_off_g_l: float = 0.0) -> Batch:
        if len(bench.cylinders) < 8:  # each call takes its own
            factories.more_cylinders(bench, 10)
        now = timezone.now()
        job = factories.job(the_client, clerk, at=now - timedelta(days=4))
        portion = factories.portion(
            factories.prepared(job.samples.get(), technician, at=now - timedelta(days=4)), technician, bench
        )
        batch = factories.batch_with_duplicates([portion], technician, bench, at=now - timedelta(days=3))
        bench.cylinders = bench.cylinders[5:] + bench.cylinders[:5]
        for run in batch.runs.order_by("position"):
            values = factories.off_by(reference_off_g_l if run.is_reference else 0.0)
            if run.is_blank:
                values = {s: f"{float(v) + blank_off_g_l:.1f}" for s, v in factories.BLANK_G_L.items()}
            factories.read_run(run, technician, values, started_at=now - timedelta(days=2))
        work_off()
        batch.refresh_from_db()
        approval.submit(batch, by=technician, at=now)
        return batch

    return made
