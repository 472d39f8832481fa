"""A round of invented soil: open, with its samples, and locked."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Round, RoundLock, RoundSample
from batches.proficiency import rules
from tests.support import approved


@pytest.fixture
def the_round(qa_officer: Any) -> Round:
    closes_on = timezone.localdate() + timedelta(days=20)
    return rules.open_round(
        provider_code="PT-26-2", closes_on=closes_on, note="", by=qa_officer, at=timezone.now()
    )


@pytest.fixture
def signed_job(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> Any:
    """Two signed loams, the second without figures."""
    return approved.make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)


@pytest.fixture
def links(the_round: Round, signed_job: Any, qa_officer: Any) -> list[RoundSample]:
    now = timezone.now()
    return [
        rules.add_sample(the_round, sample=sample, item=item, by=qa_officer, at=now)
        for sample, item in zip(signed_job.samples.order_by("line"), ("A", "B"), strict=True)
    ]


@pytest.fixture
def lock(the_round: Round, links: Any, qa_officer: Any) -> RoundLock:
    return rules.lock_results(the_round, by=qa_officer, at=timezone.now())
