"""Issuing: who may, what is refused, what is kept."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import ProgrammingError, connection, transaction
from django.test import Client
from django.urls import reverse

from particles.models import Sample
from reports.certificates.models import Certificate
from reports.content.reasons import why_no_figures
from tests.conftest import SECRET
from tests.support import factories
from tests.support.approved import WHY_WITHOUT, laboratory

pytestmark = pytest.mark.django_db(transaction=True)


def _address(job: Any) -> str:
    return reverse("reports:issue", args=[job.number])


def _browser(person: Any) -> Client:
    browser = Client()
    browser.force_login(person)
    return browser


def _signed(browser: Client, job: Any, secret: str = SECRET) -> dict[str, str]:
    """What the form of the preview sends back."""
    page = browser.get(_address(job))
    return {"seen": page.context["form"].initial["seen"], "secret": secret}


@pytest.mark.parametrize("who", ["technician", "clerk", "custodian", "client_person", "stranger"])
def test_these_people_may_not_issue(request: Any, approved_job: Any, who: str) -> None:
    browser = _browser(request.getfixturevalue(who))
    assert browser.get(_address(approved_job)).status_code == 403
    assert browser.post(_address(approved_job), {"secret": SECRET, "seen": "x"}).status_code == 403
    assert not Certificate.objects.exists()


def test_the_preview_says_everything_that_will_be_certified(approved_job: Any, manager: Any) -> None:
    page = _browser(manager).get(_address(approved_job))
    shown = page.content.decode()
    content = page.context["content"]
    reported, without = content["samples"]
    assert reported["reported"]
    assert not without["reported"]
    for row in reported["fractions"]:
        assert row["interval_pct"] in shown
        assert row["limits"] in shown
    assert reported["texture_class"] in shown
    assert why_no_figures([]) in shown
    assert WHY_WITHOUT not in shown, "a reviewer's note stays in the laboratory"
    for sentence in (*content["method_statements"], *content["statements"]):
        assert sentence.replace("'", "&#x27;") in shown
    assert f"Approved by {content['approved_by']}" in shown
    assert Certificate.objects.count() == 0


def test_a_signature_issues_and_freezes_the_certificate(approved_job: Any, manager: Any) -> None:
    browser = _browser(manager)
    answer = browser.post(_address(approved_job), _signed(browser, approved_job))
    made = Certificate.objects.get()
    assert answer.url == reverse("reports:certificate", args=[made.number])
    assert made.sha256 == hashlib.sha256(bytes(made.pdf)).hexdigest()
    assert made.issued_by == manager
    assert made.results.count() == 2
    assert set(Sample.objects.values_list("state", flat=True)) == {"reported"}
    assert "is issued" in browser.get(answer.url).content.decode()


def test_a_wrong_password_signs_nothing(approved_job: Any, manager: Any) -> None:
    browser = _browser(manager)
    answer = browser.post(_address(approved_job), _signed(browser, approved_job, "somebody else's"))
    assert answer.status_code == 409
    assert "The password does not belong to you" in answer.content.decode()
    assert not Certificate.objects.exists()
    assert set(Sample.objects.values_list("state", flat=True)) == {"approved"}


def test_an_empty_password_is_asked_for_again(approved_job: Any, manager: Any) -> None:
    browser = _browser(manager)
    answer = browser.post(_address(approved_job), _signed(browser, approved_job, ""))
    assert answer.status_code == 422
    assert "it is your signature" in answer.content.decode()


def test_a_draft_that_changed_since_it_was_read_is_not_signed(approved_job: Any, manager: Any) -> None:
    browser = _browser(manager)
    signed = _signed(browser, approved_job)
    client = approved_job.client
    client.address = "2 Example Lane"
    client.save()
    answer = browser.post(_address(approved_job), signed)
    assert answer.status_code == 409
    assert "has changed since you opened this page" in answer.content.decode()
    assert not Certificate.objects.exists()
    assert browser.post(_address(approved_job), _signed(browser, approved_job)).status_code == 302


def test_text_the_page_cannot_print_is_refused_by_name(approved_job: Any, manager: Any) -> None:
    browser = _browser(manager)
    client = approved_job.client
    client.name = "土壌"
    client.save()
    answer = browser.post(_address(approved_job), _signed(browser, approved_job))
    assert answer.status_code == 409
    assert "was not printed" in answer.content.decode()
    assert not Certificate.objects.exists()


def test_a_second_click_leads_to_the_certificate_that_exists(approved_job: Any, manager: Any) -> None:
    browser = _browser(manager)
    signed = _signed(browser, approved_job)
    first = browser.post(_address(approved_job), signed)
    second = browser.post(_address(approved_job), signed)
    assert (first.url, second.status_code) == (second.url, 302)
    assert "has certificate" in browser.get(second.url).content.decode()
    assert Certificate.objects.count() == 1


def test_two_people_at_once_make_one_certificate(approved_job: Any, manager: Any, qa_officer: Any) -> None:
    browsers = [_browser(manager), _browser(qa_officer)]
    forms = [_signed(browser, approved_job) for browser in browsers]

    def sign(place: int) -> Any:
        try:
            return browsers[place].post(_address(approved_job), forms[place])
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(sign, range(2)))
    made = Certificate.objects.get()
    assert {answer.url for answer in answers} == {reverse("reports:certificate", args=[made.number])}


def test_a_job_that_is_not_ready_says_which_sample_waits_for_what(
    the_client: Any, clerk: Any, technician: Any, manager: Any, bench: Any, work_off: Any
) -> None:
    laboratory()
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    work_off()
    sample = batch.sample_runs.get().portion.sample
    browser = _browser(manager)
    page = browser.get(_address(sample.job))
    assert page.status_code == 200
    assert sample.lab_number in page.content.decode()
    assert "the technician to hand the batch to review" in page.content.decode()
    assert browser.post(_address(sample.job), {"secret": SECRET, "seen": "x"}).status_code == 409
    assert not Certificate.objects.exists()


def test_the_list_shows_ready_jobs_until_they_are_issued(
    approved_job: Any, manager: Any, the_client: Any, clerk: Any
) -> None:
    untouched = factories.job(the_client, clerk)
    browser, address = _browser(manager), reverse("reports:certificates")
    ready = browser.get(address).context["ready"]
    assert [(job.number, job.approved) for job in ready] == [(approved_job.number, 2)]
    browser.post(_address(approved_job), _signed(browser, approved_job))
    page = browser.get(address)
    assert list(page.context["ready"]) == []
    assert [each.job for each in page.context["page"]] == [approved_job]
    assert untouched.number not in page.content.decode()
    assert not list(browser.get(address, {"sought": "no such thing"}).context["page"])
    assert len(browser.get(address, {"sought": approved_job.number}).context["page"]) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reports_certificate SET number = 'C00-0000'",
        "UPDATE reports_certificate SET pdf = ''",
        "DELETE FROM reports_certificate",
    ],
)
def test_the_database_itself_refuses_to_change_a_certificate(certificate: Any, statement: str) -> None:
    with (
        pytest.raises(ProgrammingError, match="reports_certificate"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)
    kept = Certificate.objects.get()
    assert (kept.number, bytes(kept.pdf)) == (certificate.number, bytes(certificate.pdf))
