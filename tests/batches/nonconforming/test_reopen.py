"""An approved batch is re-opened as nonconforming work, put right, signed by somebody else; certificates follow."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.exchanging import rules as putting_right
from batches.models import Approval, Batch, NonconformingWork
from batches.nonconforming.rules import reopen
from batches.review.signing import signed_results
from particles.models import Job, Sample
from particles.records.refusals import NotPossible, NotThisPerson, WrongState
from reports.certificates.models import Certificate
from reports.certificates.rules import amend_certificate, issue_certificate
from tests.batches.review.test_sign_everything_shown import note_all, sign
from tests.conftest import SECRET
from tests.support.approved import make_approved_job
from tests.support.reviewing import BECAME, causes_of, settle

pytestmark = pytest.mark.django_db(transaction=True)
FOUND = "The bags of both samples were poured into each other's cylinder."


@pytest.fixture
def certificate(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, bench: Any, work_off: Any
) -> Certificate:
    """Of two loams, the second without figures."""
    job = make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)
    return issue_certificate(job, by=manager, at=timezone.now(), secret=SECRET)


@pytest.fixture
def batch(certificate: Certificate) -> Batch:
    return Batch.objects.get()


def states(job: Job) -> list[str]:
    return list(Sample.objects.filter(job=job).order_by("line").values_list("state", flat=True))


def reopened(batch: Batch, by: Any, **also: Any) -> NonconformingWork:
    return reopen(batch, **({"found": FOUND, "found_by": "the client"} | also), by=by, at=timezone.now())


def test_it_lists_what_it_touches_and_keeps_the_earlier_signature(
    certificate: Certificate, batch: Batch, qa_officer: Any, second_officer: Any, as_person: Any
) -> None:
    """Bench fault 101."""
    client, address = as_person(second_officer), f"/review/{batch.number}/"
    assert f"{address}re-open/" in client.get(address).content.decode()
    page = client.get(f"{address}re-open/")
    assert certificate.number in page.content.decode()
    typed = {"found": FOUND, "found_by": "the client, by telephone", "seen": page.context["version"]}
    assert client.post(f"{address}re-open/", typed | {"found": ""}).status_code == 422
    assert client.post(f"{address}re-open/", typed).status_code == 302
    work, signed = NonconformingWork.objects.get(), Approval.objects.get()
    samples = [section["lab_number"] for section in certificate.context["samples"]]
    assert work.touches == {
        "samples": samples,
        "jobs": [certificate.job.number],
        "certificates": [certificate.number],
    }
    assert (work.by, work.approval, work.found) == (second_officer, signed, FOUND)
    assert str(qa_officer) in work.approved
    batch.refresh_from_db()
    assert (batch.state, batch.approved_by) == ("re-opened", None)
    assert states(certificate.job) == ["under review", "under review"]
    shown = client.get(address).content.decode()
    assert "Re-opened as nonconforming work" in shown
    assert certificate.number in shown
    with pytest.raises(NotPossible, match="until it is signed anew"):
        signed_results(batch)


def test_records_are_put_right_signed_by_somebody_else_and_the_certificate_is_amended(
    certificate: Certificate, batch: Batch, qa_officer: Any, second_officer: Any, manager: Any, work_off: Any
) -> None:
    """Bench faults 101, 102 and 103: only through nonconforming work, and the amended one says what changed."""
    reopened(batch, second_officer)
    run = batch.sample_runs.order_by("position")[0]
    right = {"mass_g": Decimal("41.00"), "reason": "The sheet says 41.00 g."}
    putting_right.put_mass_right(run.portion, "portion", **right, by=second_officer, at=timezone.now())
    assert work_off() == 1
    note_all(batch, qa_officer)
    with pytest.raises(NotThisPerson):
        sign(batch, second_officer)
    signed = sign(batch, qa_officer, what_became="The mass was put right to that of the sheet.")
    assert Approval.objects.count() == 2
    assert batch.approvals.order_by("pk").last() == signed
    assert states(certificate.job) == ["approved", "reported"], "the second is as it was reported"
    with pytest.raises(NotPossible, match="Say why it is amended"):
        amend_certificate(certificate, why=" ", by=manager, at=timezone.now(), secret=SECRET)
    made = amend_certificate(certificate, why=FOUND, by=manager, at=timezone.now(), secret=SECRET)
    assert "oven-dry portion, g was 39.20, is 40.18" in made.context["what_changed"]
    assert FOUND in made.context["what_changed"]
    assert made.replaces == certificate
    certificate.refresh_from_db()
    assert certificate.replaced_by == made, "the old revision answers as superseded"


def test_signed_anew_unchanged_everything_is_as_it_was_reported(
    certificate: Certificate, batch: Batch, qa_officer: Any, second_officer: Any, as_person: Any
) -> None:
    """What was said before is asked again and shown; the signature says what became of what was found wrong."""
    address = f"/review/{batch.number}/"
    reopened(batch, second_officer)
    page = as_person(qa_officer).get(address)
    assert "What became of what was found wrong" not in page.content.decode(), "the samples come before it"
    assert "Asked again: the batch was re-opened" in page.content.decode()
    answered = [each for each in causes_of(Batch.objects.get(pk=batch.pk)) if each.answers]
    assert answered
    assert {each.why_fallen for each in answered} == {"the batch was re-opened since"}
    settle(Batch.objects.get(pk=batch.pk), qa_officer)
    with pytest.raises(NotPossible, match="Say in a sentence what became of what was found wrong"):
        sign(Batch.objects.get(pk=batch.pk), qa_officer)
    with pytest.raises(NotPossible, match="Say in a sentence what became of what was found wrong"):
        sign(Batch.objects.get(pk=batch.pk), qa_officer, what_became="ok")
    signed = sign(Batch.objects.get(pk=batch.pk), qa_officer, what_became=BECAME)
    assert f"what became of what was found wrong: {BECAME}" in signed.covered
    assert (
        f"What became of what was found wrong: {BECAME}"
        in as_person(qa_officer).get(address).content.decode()
    )
    assert states(certificate.job) == ["reported", "reported"]
    assert signed_results(Batch.objects.get(pk=batch.pk))


def test_what_cannot_be_reopened_is_refused(
    certificate: Certificate, batch: Batch, qa_officer: Any, second_officer: Any, technician: Any
) -> None:
    with pytest.raises(NotThisPerson, match="the QA officer is"):
        reopened(batch, technician)
    with pytest.raises(NotPossible, match="Say what was found wrong"):
        reopened(batch, qa_officer, found=" ")
    first = reopened(batch, qa_officer)
    assert reopened(batch, qa_officer) == first, "sent twice it is one"
    with pytest.raises(WrongState, match=r"re-opened .* already"):
        reopened(batch, second_officer, found="Something else.")
    assert NonconformingWork.objects.count() == 1


def test_the_database_reopens_nothing_without_what_was_found(
    certificate: Certificate, batch: Batch, qa_officer: Any
) -> None:
    unsigned = {"approved_by": None, "approved_at": None, "approved_digest": ""}
    with pytest.raises(DatabaseError, match="re-opened with what was found wrong"), transaction.atomic():
        Batch.objects.filter(pk=batch.pk).update(state="re-opened", **unsigned)
    reopened(batch, qa_officer)
    with pytest.raises(DatabaseError, match="only an approved batch is re-opened"), transaction.atomic():
        NonconformingWork.objects.create(
            batch=batch, found="x", found_by="x", approved="x", touches={}, by=qa_officer, at=timezone.now()
        )


def test_a_refused_correction_of_a_signed_batch_says_where_it_is_reopened(
    certificate: Certificate, batch: Batch, technician: Any
) -> None:
    """Bench fault 101: the refusal names the way."""
    from tests.support import factories

    run = batch.sample_runs.order_by("position")[0]
    answer = factories.send(
        "reading", technician, run=run.pk, slot_s=60, state="read", reading="20.0", elapsed_s=60,
        temperature_c="20.0", source="paper", reason="Misread.",
    )  # fmt: skip
    assert not answer.stored
    assert (
        f"re-opens the batch as nonconforming work, at the end of the page “Review of batch {batch.number}”"
        in (answer.sentence)
    )
