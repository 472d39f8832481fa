from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.support import factories

pytestmark = pytest.mark.django_db
ARRIVALS = "particles:arrivals"


def test_jobs_stand_newest_first_with_their_samples_by_state(
    the_job: Any, the_client: Any, clerk: Any, at: Any
) -> None:
    the_job.samples.first().accept(by=clerk, at=the_job.received_at)
    newer = factories.job(the_client, clerk)
    page = at(clerk).get(reverse(ARRIVALS))
    assert [job.number for job, _ in page.context["rows"]] == [newer.number, the_job.number]
    assert dict(page.context["rows"][1][1]) == {"accepted": 1, "arrived": 2}
    assert "2 arrived" in page.content.decode()


def test_holds_are_named_with_whose_move_it_is(the_job: Any, clerk: Any, at: Any) -> None:
    sample = the_job.samples.first()
    sample.hold(reason="Depth unreadable.", waits_for="client", by=clerk, at=the_job.received_at)
    page = at(clerk).get(reverse(ARRIVALS)).content.decode()
    assert page.index("Depth unreadable.") < page.index("Jobs, newest first")
    assert '<span class="state state-held">client</span>' in page


def test_an_empty_day_says_how_to_begin(clerk: Any, at: Any) -> None:
    assert "No job has been logged yet." in at(clerk).get(reverse(ARRIVALS)).content.decode()


@pytest.mark.parametrize("words", ["label", "lab_number", "number", "client"])
def test_a_job_is_found_by_what_the_clerk_holds(words: str, the_job: Any, clerk: Any, at: Any) -> None:
    other = factories.job(factories.client("Other Farm (invented)"), clerk)
    sample = the_job.samples.last()
    asked = {
        "label": sample.client_label,
        "lab_number": sample.lab_number,
        "number": the_job.number,
        "client": "example estate",
    }[words]
    rows = at(clerk).get(reverse(ARRIVALS), {"q": asked}).context["rows"]
    assert [job for job, _ in rows] == [the_job]
    assert other.number != the_job.number


def test_thirty_jobs_ask_the_database_no_more_often_than_three(
    the_job: Any, the_client: Any, clerk: Any, at: Any
) -> None:
    browser = at(clerk)

    def questions() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert browser.get(reverse(ARRIVALS)).status_code == 200
        return len(asked)

    def with_a_hold() -> None:
        job = factories.job(the_client, clerk, samples=2)
        job.samples.get(line=1).hold(reason="Torn.", waits_for="client", by=clerk, at=job.received_at)

    for _ in range(2):
        with_a_hold()
    few = questions()
    for _ in range(27):
        with_a_hold()
    assert questions() == few


def test_a_long_list_has_pages(the_client: Any, bench: Any, clerk: Any, at: Any) -> None:
    for _ in range(51):
        factories.job(the_client, clerk)
    first = at(clerk).get(reverse(ARRIVALS))
    assert len(first.context["rows"]) == 50
    assert "?page=2" in first.content.decode()
    assert len(at(clerk).get(reverse(ARRIVALS), {"page": 2}).context["rows"]) == 1
