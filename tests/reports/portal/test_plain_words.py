"""What clients read of states."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import Any

import pytest

from particles.models import Job, Sample, SampleState
from reports.portal.plain_words import SAMPLE_STATES, WAITS_FOR, job_status
from tests.support import factories


def test_every_state_of_a_sample_has_words_for_the_client() -> None:
    assert set(SAMPLE_STATES) == set(SampleState)


def test_every_state_before_approval_says_what_it_waits_for() -> None:
    final = {SampleState.APPROVED, SampleState.REPORTED, SampleState.REFUSED, SampleState.CANCELLED}
    assert set(WAITS_FOR) == set(SampleState) - final


@pytest.mark.django_db
def test_lists_say_the_same_words_as_the_job_itself(the_client: Any, clerk: Any, bench: Any) -> None:
    pairs = list(combinations_with_replacement(SampleState, 2))
    first = factories.job(the_client, clerk)
    shared = {
        "client": the_client,
        "method": first.method,
        "received_at": first.received_at,
        "received_by": clerk,
    }
    jobs = Job.objects.bulk_create(Job(number=f"P{place}", **shared) for place in range(len(pairs)))
    Sample.objects.bulk_create(
        Sample(
            job=job,
            line=line,
            lab_number=f"{job.number}-{line}",
            client_label=f"bag {line}",
            origin_country="Examplia",
            state=state,
            hold_reason="torn" if state == SampleState.ON_HOLD else "",
            hold_waits_for="client" if state == SampleState.ON_HOLD else "",
        )
        for job, pair in zip(jobs, pairs, strict=True)
        for line, state in enumerate(pair)
    )
    for job, pair in zip(jobs, pairs, strict=True):
        assert job_status({str(state) for state in pair})[0] == job.plain_status, pair
