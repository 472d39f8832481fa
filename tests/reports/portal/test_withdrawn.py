"""A job whose certificate is withdrawn says so first, in words, on every page of the client."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from particles.corrections.rules import correct_facts
from particles.models import SampleState
from reports.certificates.models import Certificate
from reports.certificates.rules import amend_certificate, withdraw_certificate
from reports.content.build import day_in_words
from reports.portal.rows import JobStatus, job_standing
from tests.conftest import SECRET

WHY = "Two bags were exchanged."
GREEN = "state-done"


@pytest.fixture
def withdrawn(certificate: Certificate, manager: Any) -> Certificate:
    withdraw_certificate(certificate, why=WHY, by=manager, at=timezone.now(), secret=SECRET)
    return certificate


def _read(person: Any, address: str) -> str:
    browser = Client()
    browser.force_login(person)
    return browser.get(address).content.decode()


@pytest.mark.django_db(transaction=True)
def test_list_and_page_of_the_job_say_withdrawn_first_and_nothing_is_green(
    withdrawn: Certificate, client_person: Any
) -> None:
    listed, page = (_read(client_person, address) for address in ("/my/", f"/my/{withdrawn.job.number}/"))
    for shown in (listed, page):
        assert "Certificate withdrawn" in shown
        assert "Certificate issued" not in shown
        assert GREEN not in shown
        assert "The figures do not stand; do not rely on them." in shown
        assert "Ask the laboratory whether another certificate comes." in shown
    assert page.index("Certificate withdrawn. ") < page.index('id="certificates"')
    said = f"Certificate {withdrawn.number} was withdrawn on {day_in_words(timezone.now())}. Why: {WHY}"
    assert page.index(said) < page.index('id="certificates"')
    assert page.count("on a withdrawn certificate, its figures do not stand") == withdrawn.job.samples.count()


@pytest.mark.django_db(transaction=True)
def test_while_a_sample_is_analysed_again_another_certificate_is_announced(
    withdrawn: Certificate, client_person: Any, qa_officer: Any
) -> None:
    first, second = withdrawn.job.samples.order_by("line")
    first.analyse_again(by=qa_officer, at=timezone.now(), reason="The bags were exchanged.")
    for address in ("/my/", f"/my/{withdrawn.job.number}/"):
        shown = _read(client_person, address)
        assert "Certificate withdrawn" in shown
        assert "another certificate takes its place when they are approved" in shown
        assert "Ask the laboratory whether" not in shown
    page = _read(client_person, f"/my/{withdrawn.job.number}/")
    assert "must be analysed again; a new portion is weighed next" in page
    assert page.count("on a withdrawn certificate") == 1
    assert second.state == SampleState.REPORTED


@pytest.mark.django_db(transaction=True)
def test_a_later_certificate_in_force_is_shown_and_the_withdrawn_one_named(
    withdrawn: Certificate, client_person: Any, clerk: Any, manager: Any
) -> None:
    sample = withdrawn.job.samples.order_by("line")[0]
    correct_facts(sample, by=clerk, at=timezone.now(), reason="their letter", client_label="Field 1 north")
    made = amend_certificate(withdrawn, why="Labels.", by=manager, at=timezone.now(), secret=SECRET)
    listed, page = (_read(client_person, address) for address in ("/my/", f"/my/{withdrawn.job.number}/"))
    for shown in (listed, page):
        assert "Certificate issued" in shown
        assert "Certificate withdrawn" not in shown
        assert f"/certificates/{made.number}/" in shown
    told = " ".join(listed.replace('<span class="lab-number">', "").replace("</span>", "").split())
    assert f"Certificate {withdrawn.number} was withdrawn; {made.number} took its place." in told
    assert f"withdrawn, superseded by {made.number}" in page
    assert "on a withdrawn certificate" not in page


def _issued(part: int | None, *, withdrawn: bool = False, newer: str = "", doubted: bool = False) -> Any:
    return SimpleNamespace(
        part=part, newer=newer, withdrawn_at=withdrawn or None, doubted_since=doubted or None
    )


def _standing(states: list[str], certificates: list[Any]) -> JobStatus:
    return job_standing(states, certificates, asked=False)


def test_of_a_job_in_parts_the_withdrawn_parts_are_named() -> None:
    one, two = _issued(1, withdrawn=True), _issued(2)
    status = _standing([SampleState.REPORTED], [one, two])
    assert (status.words, status.kind) == ("Part 1 of the results withdrawn", "refused")
    both = _standing([SampleState.REPORTED], [one, _issued(2, withdrawn=True), _issued(3)])
    assert both.words == "Parts 1, 2 of the results withdrawn"
    at_work = _standing([SampleState.REPORTED, SampleState.IN_BATCH], [one, two])
    assert "Ask the laboratory" in at_work.meaning, "the sample at work may be of another part"


def test_a_withdrawal_comes_before_a_doubt_and_ends_with_what_replaces_it() -> None:
    doubted = _issued(2, doubted=True)
    assert _standing([SampleState.REPORTED], [_issued(1, withdrawn=True), doubted]).kind == "refused"
    replaced = [_issued(1, withdrawn=True, newer="C26-0001-1"), _issued(1)]
    assert _standing([SampleState.REPORTED], replaced).words == "Certificate issued"
    assert _standing([SampleState.REPORTED], [*replaced, doubted]).words == "Being looked at again"
