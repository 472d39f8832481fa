"""Every address of the app for every role, and lists that stay constant in queries."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.models import Run
from batches.timetables.urls import urlpatterns as bench_day_addresses
from particles.models import Job, MethodEditionRecord
from reports.urls import urlpatterns
from tests.support import factories

PEOPLE = ["clerk", "technician", "qa_officer", "manager", "custodian", "client_person", "stranger", None]
CERTIFIED = [404, 404, 200, 200, 404, 200, 404, 302]
EXPECTED: dict[str, list[int]] = {
    "certificates": [403, 403, 200, 200, 403, 403, 403, 302],
    "issue": [403, 403, 302, 302, 403, 403, 403, 302],
    "issue_part": [403, 403, 200, 200, 403, 403, 403, 302],
    "certificate": CERTIFIED,
    "download": CERTIFIED,
    "certificate_chart": CERTIFIED,
    "amend": [403, 403, 200, 200, 403, 403, 403, 302],
    "withdraw": [403, 403, 200, 200, 403, 403, 403, 302],
    "again": [403, 403, 200, 200, 403, 403, 403, 302],
    "my_jobs": [403, 403, 403, 403, 403, 200, 200, 302],
    "my_job": [403, 403, 403, 403, 403, 200, 404, 302],
    "check": [200] * 8,
    "ask": [200] * 8,
    "run_chart": [403, 200, 200, 200, 200, 403, 403, 302],
    "cause_chart": [403, 403, 404, 404, 403, 403, 403, 302],  # no such cause
    "limits_chart": [403, 403, 404, 404, 403, 403, 403, 302],  # no pair yet: nothing to draw
    "api_certificates": [200, 200, 200, 200, 200, 200, 200, 403],
    "api_certificate": [404, 404, 200, 200, 404, 200, 404, 403],
}

BENCH = [403, 200, 403, 200, 403, 403, 403, 302]
NONE_YET = [403, 404, 403, 404, 403, 403, 403, 302]
SENT_ONLY = [403, 405, 403, 405, 403, 403, 403, 302]
BENCH_DAY: dict[str, tuple[list[Any], list[int]]] = {
    "bench_day": ([], BENCH),
    "bench_day_new": ([], BENCH),
    "bench_day_late": ([], SENT_ONLY),
    "bench_day_plan": ([1], NONE_YET),
    "bench_day_progress": ([1], NONE_YET),
    "bench_day_search": ([1], SENT_ONLY),
    "bench_day_keep": ([1], SENT_ONLY),
    "run_sheet": ([1], NONE_YET),
    "calendar": ([], BENCH),
    "make_calendar": ([], SENT_ONLY),
    "end_calendar": ([], SENT_ONLY),
    "calendar_feed": (["unknown"], [404] * 8),
}


def _arguments(certificate: Any) -> dict[str, list[Any]]:
    number, job = certificate.number, certificate.job.number
    lab_number = certificate.context["samples"][0]["lab_number"]
    run = Run.objects.get(portion__sample__lab_number=lab_number)
    return {
        "issue": [job],
        "issue_part": [job],
        "my_job": [job],
        "certificate": [number],
        "api_certificate": [number],
        "amend": [number],
        "withdraw": [number],
        "again": [lab_number],
        "check": [number],
        "download": [number, "pdf"],
        "certificate_chart": [number, lab_number, "size-curve"],
        "run_chart": [run.pk, "settling"],
        "cause_chart": [run.batch.number, "0" * 16, run.pk],
        "limits_chart": [f"duplicates-clay.0.{MethodEditionRecord.roots()[run.batch.method.pk]}"],
    }


@pytest.mark.django_db(transaction=True)
def test_every_address_answers_each_role_as_it_should(request: Any, client: Any, certificate: Any) -> None:
    assert set(EXPECTED) == {each.name for each in urlpatterns}
    arguments = _arguments(certificate)
    asked = {"code": certificate.check_code}
    for place, who in enumerate(PEOPLE):
        client.logout()
        if who is not None:
            client.force_login(request.getfixturevalue(who))
        for name, expected in EXPECTED.items():
            typed = {} if name == "ask" else asked
            answer = client.get(reverse(f"reports:{name}", args=arguments.get(name, [])), typed)
            assert answer.status_code == expected[place], (name, who)
            if who == "stranger" and name != "check":
                assert certificate.context["client_name"] not in answer.content.decode()
                assert certificate.number not in answer.content.decode()


@pytest.mark.django_db
def test_the_bench_day_is_for_whoever_plans_it(request: Any, client: Any) -> None:
    assert set(BENCH_DAY) == {each.name for each in bench_day_addresses}
    for place, who in enumerate(PEOPLE):
        client.logout()
        if who is not None:
            client.force_login(request.getfixturevalue(who))
        for name, (arguments, expected) in BENCH_DAY.items():
            answer = client.get(reverse(f"batches:{name}", args=arguments))
            assert answer.status_code == expected[place], (name, who)


@pytest.mark.django_db
def test_a_client_reads_plain_words_and_only_the_questions_put_to_them(
    client: Any, the_client: Any, clerk: Any, client_person: Any, bench: Any
) -> None:
    job = factories.job(the_client, clerk, samples=3)
    now = job.received_at
    torn, sealed, empty = job.samples.all()
    torn.hold(reason="The bag is torn. Send more soil?", waits_for="client", by=clerk, at=now)
    sealed.hold(reason="Permit file is with the custodian", waits_for="laboratory manager", by=clerk, at=now)
    empty.refuse(by=clerk, at=now, reason="No soil in the bag.")
    client.force_login(client_person)
    page = client.get(reverse("reports:my_job", args=[job.number])).content.decode()
    assert "The bag is torn. Send more soil?" in page
    assert "Permit file" not in page
    assert "held, the laboratory clears it" in page
    assert page.count("there is nothing to do for you") == 1
    assert "waiting for an answer from you" in page
    assert "No soil in the bag." in page
    assert page.index("Field 1") < page.index(torn.lab_number + "</span>")
    assert "No certificate has been issued yet" in page


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("waits_for", "said", "not_said"),
    [
        ("laboratory manager", "Held, the laboratory clears it", "answer from you"),
        ("the client", "Waiting for an answer from you", "nothing to do"),
    ],
)
def test_list_and_page_of_a_job_say_the_same_of_a_hold(
    client: Any, the_client: Any, clerk: Any, client_person: Any, bench: Any, waits_for: str, said: str,
    not_said: str,
) -> None:  # fmt: skip
    job = factories.job(the_client, clerk)
    job.samples.get().hold(reason="A permit is missing", waits_for=waits_for, by=clerk, at=job.received_at)
    client.force_login(client_person)
    for address in (reverse("reports:my_jobs"), reverse("reports:my_job", args=[job.number])):
        page = client.get(address).content.decode()
        assert said in page, address
        assert not_said not in page, address
        assert "Waiting for an answer<" not in page


@pytest.mark.django_db
def test_the_list_of_jobs_is_the_persons_own_and_asks_the_same_number_of_questions(
    client: Any, the_client: Any, clerk: Any, client_person: Any, stranger: Any, bench: Any
) -> None:
    foreign = factories.job(stranger.client_places.get().client, clerk)
    client.force_login(client_person)
    address = reverse("reports:my_jobs")

    def shown() -> tuple[set[str], int]:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            page = client.get(address)
        assert foreign.number not in page.content.decode()
        return {job.number for job in page.context["page"]}, len(queries)

    first = factories.job(the_client, clerk)
    numbers, asked = shown()
    assert numbers == {first.number}
    more = {factories.job(the_client, clerk, samples=2).number for _ in range(4)}
    numbers, asked_again = shown()
    assert numbers == {first.number} | more
    assert asked_again == asked


@pytest.mark.django_db
def test_a_person_of_two_clients_sees_both(
    client: Any, the_client: Any, clerk: Any, manager: Any, stranger: Any, bench: Any
) -> None:
    own = factories.job(stranger.client_places.get().client, clerk)
    other = factories.job(the_client, clerk)
    client.force_login(stranger)
    assert client.get(reverse("reports:my_job", args=[other.number])).status_code == 404
    factories.person_of(the_client, stranger, manager)
    assert client.get(reverse("reports:my_job", args=[other.number])).status_code == 200
    page = client.get(reverse("reports:my_jobs"))
    assert (
        {job.pk for job in page.context["page"]}
        == {own.pk, other.pk}
        == set(Job.objects.values_list("pk", flat=True))
    )
