"""A job goes out in parts: each certificate says which part it is and which samples are still to come."""

from __future__ import annotations

import csv
import json
import subprocess
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from batches.models import RunVoid
from batches.repeating.rules import why_another_portion
from batches.review import rules as approval
from particles.corrections.rules import correct_facts
from particles.models import Job, Sample
from particles.records.refusals import AlreadyThere, NotPossible
from reports.certificates.models import Certificate
from reports.certificates.parts import next_part
from reports.certificates.rules import amend_certificate, draft_amendment, issue_certificate
from tests.batches.review.test_sign_everything_shown import note_all, sign
from tests.conftest import SECRET
from tests.support import approved, factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def half_ready(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> Job:
    """Three loams, the first lost by a spill: two are approved, one waits for a new portion."""
    approved.laboratory()
    batch = factories.measured_batch(the_client, clerk, technician, bench, samples=3)
    spilled = batch.sample_runs.order_by("position")[0]
    factories.stored(
        "void",
        technician,
        run=spilled.pk,
        why=RunVoid.Why.SPILL,
        voided_at=timezone.now().isoformat(),
        note="",
    )
    work_off()
    approval.submit(batch, by=technician, at=timezone.now())
    note_all(batch, qa_officer)
    sign(batch, qa_officer, why_rest="The spill was in one cylinder alone.")
    return approved.job_of(batch)


@pytest.fixture
def finish(technician: Any, qa_officer: Any, bench: Any, work_off: Any) -> Any:
    """Analyses a new portion of a sample and approves it."""

    def done(sample: Sample) -> None:
        sample.refresh_from_db()
        taken = factories.portion(sample, technician, bench, reason=why_another_portion(sample) or "Doubted.")
        batch = factories.measured([taken], technician, bench)
        work_off()
        approved.approve(batch, technician, qa_officer)

    return done


def issued(job: Job, by: Any, **also: Any) -> Certificate:
    return issue_certificate(job, by=by, at=timezone.now(), secret=SECRET, **also)


def printed(certificate: Certificate) -> str:
    """Text of the PDF as a reader extracts it, each run of spaces and breaks as one space."""
    run = subprocess.run(
        ["pdftotext", "-", "-"], input=bytes(certificate.pdf), capture_output=True, check=True
    )
    return " ".join(run.stdout.decode().split())


def browser(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_one_repeat_holds_nobody_elses_results_back(half_ready: Job, manager: Any) -> None:
    lost, *others = half_ready.samples.order_by("line")
    with pytest.raises(NotPossible, match="Not every sample"):
        issued(half_ready, manager)
    client = browser(manager)
    waiting = client.get(f"/jobs/{half_ready.number}/issue/").content.decode()
    said = (
        f"This is part 1 of the results of job {half_ready.number}. Still to come: samples {lost.lab_number}."
    )
    assert said in waiting
    assert f"/jobs/{half_ready.number}/issue-part/" in client.get("/certificates/").content.decode()
    page = client.get(f"/jobs/{half_ready.number}/issue-part/")
    shown = page.content.decode()
    assert said in shown
    head = "This is part 1 of the results of job"
    assert shown.index(head) < shown.index("Results in percent by mass"), "said above the figures"
    signed = {"seen": page.context["form"].initial["seen"], "secret": SECRET}
    assert client.post(f"/jobs/{half_ready.number}/issue-part/", signed).status_code == 302
    made = Certificate.objects.get()
    assert (made.part, made.revision) == (1, 0)
    assert [section["lab_number"] for section in made.context["samples"]] == [s.lab_number for s in others]
    assert made.context["statements"][0] == said
    assert said in bytes(made.data_json).decode()
    why = "must be analysed again; a new portion is weighed next"
    [absent] = json.loads(bytes(made.data_json))["part"]["not_in_it"]
    assert absent == {"lab_number": lost.lab_number, "client_label": lost.client_label, "why": why}
    rows = list(csv.DictReader(bytes(made.data_csv).decode("utf-8-sig").splitlines()))
    assert {row["part"] for row in rows} == {"1"}
    assert [(r["lab_number"], r["value"]) for r in rows if r["kind"] == "not in this part"] == [
        (lost.lab_number, why)
    ]
    first_page = printed(made).split("Results in percent by mass")[0]
    assert f"Part 1 of the results of job {half_ready.number}" in first_page
    assert f"{lost.lab_number}, {lost.client_label}: {why}" in first_page
    assert list(half_ready.samples.order_by("line").values_list("state", flat=True)) == [
        "prepared",
        "reported",
        "reported",
    ]


def test_what_was_still_to_come_follows_on_the_next_part(half_ready: Job, manager: Any, finish: Any) -> None:
    first = issued(half_ready, manager, in_part=True)
    with pytest.raises(NotPossible, match="nothing new is approved"):
        issued(half_ready, manager, in_part=True)
    lost = half_ready.samples.order_by("line")[0]
    finish(lost)
    assert f"/jobs/{half_ready.number}/issue-part/" in browser(manager).get("/certificates/").content.decode()
    with pytest.raises(AlreadyThere):
        issued(half_ready, manager)
    second = issued(half_ready, manager, in_part=True)
    assert (second.part, second.number != first.number) == (2, True)
    assert [section["lab_number"] for section in second.context["samples"]] == [lost.lab_number]
    assert second.context["statements"][0] == (
        f"This is part 2 of the results of job {half_ready.number}. With it every sample of the job is reported. "
        f"Earlier parts: {first.number}."
    )
    assert next_part(half_ready) is None
    assert [row["why"] for row in second.context["part"]["not_in_it"]] == [
        f"on certificate {first.number}"
    ] * 2


def test_the_client_reads_which_part_it_is_and_what_is_not_in_it_yet(
    half_ready: Job, manager: Any, client_person: Any, finish: Any
) -> None:
    first = issued(half_ready, manager, in_part=True)
    lost, client = half_ready.samples.order_by("line")[0], browser(client_person)
    job_page = client.get(f"/my/{half_ready.number}/").content.decode()
    assert "is a part of the results. Not in it:" in job_page
    assert f"{lost.client_label}: must be analysed again; a new portion is weighed next" in job_page
    assert "Part issued, the rest follows." in job_page
    jobs = client.get("/my/").content.decode()
    assert f"{first.number}</span></a>, part 1" in jobs
    assert "Part issued, the rest follows" in jobs
    assert "Received</span>" not in jobs
    page = client.get(f"/certificates/{first.number}/").content.decode()
    head = page.split("Results in percent by mass")[0]
    assert "not all of them. Not in it, as of " in head
    assert lost.lab_number in head
    assert "spill" not in head.lower(), "why a portion was lost stays inside"
    finish(lost)
    second = issued(half_ready, manager, in_part=True)
    job_page = client.get(f"/my/{half_ready.number}/").content.decode()
    assert f"{lost.client_label}: on certificate {second.number}" in job_page


def test_a_part_is_amended_by_itself_and_stays_the_part_it_was(
    half_ready: Job, manager: Any, clerk: Any, finish: Any
) -> None:
    """Bench fault 102: an amendment that would say the same is refused, also of a part."""
    first = issued(half_ready, manager, in_part=True)
    finish(half_ready.samples.order_by("line")[0])
    second = issued(half_ready, manager, in_part=True)
    with pytest.raises(NotPossible, match="would say the same"):
        draft_amendment(first, why="Looked again.", by=manager, at=timezone.now())
    sample = half_ready.samples.order_by("line")[1]
    correct_facts(sample, by=clerk, at=timezone.now(), reason="their letter", client_label="Field 2 north")
    made = amend_certificate(first, why="The label.", by=manager, at=timezone.now(), secret=SECRET)
    assert (made.part, made.revision, made.number) == (1, 1, f"{first.number}-1")
    assert made.context["statements"] == first.context["statements"]
    assert made.context["part"] == first.context["part"]
    assert len(made.context["samples"]) == 2
    assert not Certificate.objects.filter(replaces=second).exists()


def test_a_job_that_is_ready_as_a_whole_has_no_parts(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, bench: Any, work_off: Any
) -> None:
    job = approved.make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)
    assert next_part(job) is None
    with pytest.raises(NotPossible, match="goes out as a whole"):
        issued(job, manager, in_part=True)
    assert issued(job, manager).part is None
