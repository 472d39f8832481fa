"""The page of a review of a full batch: as many queries as for a small one, and how long it takes."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.models import Batch, CauseList
from batches.review import rules as review_rules
from tests.support.full_batch import full_batch
from tests.support.reviewing import look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)

SOILS = ("loam", "silt loam", "sandy loam", "clay loam")
TOO_MANY_QUERIES = 30


def test_a_full_review_asks_no_more_often_than_a_small_one(
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    qa_officer: Any,
    as_person: Any,
    work_off: Callable[[], int],
) -> None:
    client, counts, cpu_ms = as_person(qa_officer), [], []
    for samples in (4, 20):
        soils = (SOILS * 5)[:samples]
        batch = full_batch(the_client, clerk, technician, bench, soils=soils)
        work_off()
        review_rules.submit(batch, by=technician, at=timezone.now())
        look_at_quality(batch, qa_officer)
        client.get(f"/review/{batch.number}/")
        with CaptureQueriesContext(connection) as asked:
            page = client.get(f"/review/{batch.number}/")
            counts.append(len(asked))  # before the next request empties the log
        assert page.status_code == 200
        assert len(page.context["strip"]) >= samples
        cpu_ms.append(min(_cpu_ms(client, batch) for _ in range(3)))
    print(
        f"queries {counts}, {cpu_ms[0]:.0f} and {cpu_ms[1]:.0f} ms of one core, {cpu_ms[1] / cpu_ms[0]:.1f} times"
    )
    assert counts[0] == counts[1] < TOO_MANY_QUERIES
    assert CauseList.objects.count() == 2, "found at the hand-over, read by every page"


def _cpu_ms(client: Any, batch: Batch) -> float:
    """Time of one core that one page takes. [ms]"""
    began = time.process_time()
    client.get(f"/review/{batch.number}/")
    return 1000 * (time.process_time() - began)
