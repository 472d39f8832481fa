from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from particles.models import Job, MethodEditionRecord
from tests.support import factories

pytestmark = pytest.mark.django_db


def page_of(browser: Any, job: Job, name: str = "job") -> str:
    answer = browser.get(reverse(f"particles:{name}", args=[job.number]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_a_clerk_may_accept_and_another_of_the_staff_only_reads(
    the_job: Any, at: Any, clerk: Any, technician: Any
) -> None:
    assert "Accept all 3 that arrived" in page_of(at(clerk), the_job)
    read_only = page_of(at(technician), the_job)
    assert "Field 3" in read_only
    assert reverse("particles:job_accept", args=[the_job.number]) not in read_only
    assert reverse("particles:sample_hold", args=[the_job.samples.first().lab_number]) not in read_only


def test_the_size_limits_are_said_in_words(the_job: Any, at: Any, clerk: Any) -> None:
    assert "Clay finer than 2 µm, silt 2 to 50 µm, sand 50 to 2000 µm" in page_of(at(clerk), the_job)


def test_a_method_by_time_promises_no_size_limits(bench: Any, the_client: Any, at: Any, clerk: Any) -> None:
    by_time = MethodEditionRecord.objects.get(code="two-reading-2026-1")
    page = page_of(at(clerk), factories.job(the_client, clerk, method=by_time))
    assert "by reading time, not by size" in page
    assert "Clay finer than" not in page


def regulated_job(the_client: Any, clerk: Any) -> Job:
    lines = [
        {"client_label": "A", "origin_country": "Examplia"},
        {"client_label": "B", "origin_country": "Karstland"},
    ]
    job = factories.job(the_client, clerk)
    return Job.log(client=the_client, lines=lines, by=clerk, at=job.received_at, method=job.method)


def test_regulated_soil_is_named_and_not_offered_for_acceptance(
    bench: Any, regulated_area: Any, the_client: Any, at: Any, clerk: Any
) -> None:
    job = regulated_job(the_client, clerk)
    page = page_of(at(clerk), job)
    assert "Regulated soil: keep sealed" in page
    assert "Accept all 1 that arrived" in page
    held = job.samples.get(client_label="B")
    acts = at(clerk).get(reverse("particles:sample_accept", args=[held.lab_number]))
    assert not acts.context["may_accept"]
    assert ">Accept</button>" not in acts.content.decode()


def test_ordinary_soil_shows_no_banner(the_job: Any, regulated_area: Any, at: Any, clerk: Any) -> None:
    assert "Regulated soil" not in page_of(at(clerk), the_job)


def test_a_large_job_asks_no_more_often_than_a_small_one(
    the_job: Any, the_client: Any, at: Any, clerk: Any
) -> None:
    browser = at(clerk)
    large = factories.job(the_client, clerk, samples=40)

    def questions(job: Job) -> int:
        with CaptureQueriesContext(connection) as asked:
            page_of(browser, job)
        return len(asked)

    assert questions(large) == questions(the_job)


def test_the_acknowledgement_lists_labels_tests_and_open_questions(the_job: Any, at: Any, clerk: Any) -> None:
    sample = the_job.samples.first()
    sample.hold(
        reason="Bag says 0-20, form says 20-40.", waits_for="client", by=clerk, at=the_job.received_at
    )
    page = page_of(at(clerk), the_job, "job_acknowledgement")
    for s in the_job.samples.all():
        assert s.lab_number in page
        assert s.client_label in page
    assert "Bag says 0-20, form says 20-40." in page
    assert "Waits for: client" in page
    assert "Clay finer than 2 µm" in page
