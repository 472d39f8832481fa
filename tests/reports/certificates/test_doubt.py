"""While an issued certificate rests on a re-opened batch, every page a client or a stranger reads says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from batches.exchanging import rules as putting_right
from batches.models import Batch
from batches.nonconforming.rules import reopen
from batches.review import rules as approval
from particles.models import Job
from reports.certificates.doubt import doubt_of, stood_on
from reports.certificates.models import Certificate
from reports.certificates.rules import amend_certificate, issue_certificate, withdraw_certificate
from reports.content.build import day_in_words
from tests.batches.review.test_sign_everything_shown import note_all, sign
from tests.conftest import SECRET
from tests.support.approved import make_approved_job
from tests.support.reviewing import BECAME, settle

pytestmark = pytest.mark.django_db(transaction=True)
FOUND = "The bags of both samples were poured into each other's cylinder."
IN_DOUBT = ("looking again at", "being looked at again", "Being looked at again", "in doubt")


@pytest.fixture
def certificate(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, bench: Any, work_off: Any
) -> Certificate:
    """Of two loams, the second without figures."""
    job = make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)
    return issue_certificate(job, by=manager, at=timezone.now(), secret=SECRET)


@pytest.fixture
def reopened(certificate: Certificate, second_officer: Any) -> Batch:
    batch = Batch.objects.get()
    reopen(batch, found=FOUND, found_by="the client", by=second_officer, at=timezone.now())
    return Batch.objects.get()


def pages(certificate: Certificate, person: Any) -> dict[str, str]:
    """Page of the job, of the certificate, list of jobs, and the public check page, as each reads them."""
    own, stranger = Client(), Client()
    own.force_login(person)
    check = stranger.get(f"/check/{certificate.number}/", {"code": certificate.check_code})
    return {
        "job": own.get(f"/my/{certificate.job.number}/").content.decode(),
        "certificate": own.get(f"/certificates/{certificate.number}/").content.decode(),
        "jobs": own.get("/my/").content.decode(),
        "check": check.content.decode(),
    }


def standing(certificate: Certificate, person: Any) -> Any:
    """What a program is told of it."""
    own = Client()
    own.force_login(person)
    [row] = [r for r in own.get("/api/certificates/").json()["results"] if r["number"] == certificate.number]
    return row["doubted_since"]


def test_client_and_stranger_are_told_and_no_figure_or_inner_reason_leaks(
    certificate: Certificate, client_person: Any, second_officer: Any
) -> None:
    before = pages(certificate, client_person)
    assert not any(word in page for word in IN_DOUBT for page in before.values())
    assert standing(certificate, client_person) is None
    batch = Batch.objects.get()
    reopen(batch, found=FOUND, found_by="the client", by=second_officer, at=timezone.now())
    shown = pages(certificate, client_person)
    first, second = certificate.job.samples.order_by("line")
    said = (
        f"Since {day_in_words(timezone.now())} the laboratory is looking again at the figures of samples "
        f"{first.lab_number}, {second.lab_number}. Do not rely on them until that is settled."
    )
    assert said in shown["job"]
    assert said in shown["certificate"].split("Results in percent by mass")[0]
    assert shown["job"].count("on the certificate, being looked at again") == 2
    assert "Being looked at again" in shown["jobs"]
    assert "Genuine, but being looked at again" in shown["check"]
    assert "Genuine and current" not in shown["check"]
    assert standing(certificate, client_person) is not None
    for page in shown.values():
        assert FOUND[:20] not in page
        assert "nonconforming" not in page
        assert str(second_officer) not in page
    figures = [row["interval_pct"] for row in certificate.context["samples"][0]["fractions"]]
    for hidden in (*figures, first.lab_number, first.client_label, certificate.context["client_name"]):
        assert hidden not in shown["check"]


def test_signed_anew_unchanged_the_doubt_is_gone(
    reopened: Batch, certificate: Certificate, qa_officer: Any, client_person: Any
) -> None:
    settle(reopened, qa_officer)
    sign(Batch.objects.get(), qa_officer, what_became=BECAME)
    assert doubt_of(certificate) is None
    shown = pages(certificate, client_person)
    assert not any(word in page for word in IN_DOUBT for page in shown.values())
    assert "Genuine and current" in shown["check"]
    said = f"Looked at again on {day_in_words(timezone.now())}; the figures stand."
    assert said in shown["job"]
    assert said in shown["certificate"].split("Results in percent by mass")[0]
    assert "Looked at again" not in shown["check"], "a stranger is told of what stands now"


def test_what_was_looked_at_again_and_stands_is_said_with_its_days(
    reopened: Batch, certificate: Certificate, qa_officer: Any
) -> None:
    assert stood_on([certificate]) == {}, "not settled yet"
    settle(reopened, qa_officer)
    sign(Batch.objects.get(), qa_officer, what_became=BECAME)
    [stood] = stood_on([certificate])[certificate.number]
    later = replace(stood, settled=stood.since + timedelta(days=40))
    first, last = day_in_words(stood.since), day_in_words(later.settled)
    assert later.sentence == f"Looked at again from {first} to {last}; the figures stand."
    of_one = replace(later, lab_numbers=stood.lab_numbers[:1], of_all=False)
    assert of_one.sentence == (
        f"Sample {stood.lab_numbers[0]}: looked at again from {first} to {last}; the figures stand."
    )


def test_put_right_it_stands_until_another_certificate_replaces_this_one(
    reopened: Batch, certificate: Certificate, qa_officer: Any, second_officer: Any, manager: Any,
    client_person: Any, work_off: Any,
) -> None:  # fmt: skip
    run = reopened.sample_runs.order_by("position")[0]
    right = {"mass_g": Decimal("41.00"), "reason": "The sheet says 41.00 g."}
    putting_right.put_mass_right(run.portion, "portion", **right, by=second_officer, at=timezone.now())
    assert work_off() == 1
    batch = Batch.objects.get()
    note_all(batch, qa_officer)
    sign(batch, qa_officer, what_became=BECAME)
    doubt = doubt_of(certificate)
    assert doubt is not None
    assert (doubt.looked_at, doubt.fallen) == ((), (run.sample.lab_number,))
    [stood] = stood_on([certificate])[certificate.number]
    assert run.sample.lab_number not in stood.lab_numbers
    assert stood.lab_numbers
    assert not stood.of_all
    shown = pages(certificate, client_person)
    assert "They do not stand as they are here." in shown["certificate"]
    assert "another certificate follows" in shown["job"]
    assert "Genuine, but being looked at again" in shown["check"]
    made = amend_certificate(
        certificate, why="A mass was put right.", by=manager, at=timezone.now(), secret=SECRET
    )
    assert doubt_of(certificate) is doubt_of(made) is None
    assert "Genuine and current" in pages(made, client_person)["check"]
    assert f"superseded by {made.number}" in pages(certificate, client_person)["check"]


def test_rejected_its_figures_stay_in_doubt_until_it_is_withdrawn(
    reopened: Batch, certificate: Certificate, qa_officer: Any, manager: Any, client_person: Any
) -> None:
    approval.reject(reopened, by=qa_officer, at=timezone.now(), reason="The bags cannot be told apart.")
    shown = pages(certificate, client_person)
    assert "They do not stand as they are here." in shown["job"]
    assert "cannot be told apart" not in "".join(shown.values())
    withdraw_certificate(
        certificate, why="Two samples were exchanged.", by=manager, at=timezone.now(), secret=SECRET
    )
    assert doubt_of(certificate) is None
    assert "Genuine, but withdrawn" in pages(certificate, client_person)["check"]


def test_a_certificate_issued_after_it_was_settled_is_not_in_doubt(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, second_officer: Any, manager: Any,
    bench: Any, work_off: Any,
) -> None:  # fmt: skip
    job: Job = make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)
    reopen(Batch.objects.get(), found=FOUND, found_by="an audit", by=second_officer, at=timezone.now())
    settle(Batch.objects.get(), qa_officer)
    sign(Batch.objects.get(), qa_officer, what_became=BECAME)
    made = issue_certificate(job, by=manager, at=timezone.now(), secret=SECRET)
    assert doubt_of(made) is None
