"""Review by somebody else, up to the signature."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest
from django.db import IntegrityError, InternalError, connection, transaction
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.entries.pages import shown_as_typed
from batches.models import Approval, Entry, Flag, FlagReview, RunDecision
from batches.review import rules as approval
from particles.records.refusals import NotThisPerson
from tests.conftest import SECRET
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def worker_who_reviews(technician: Any) -> Any:
    technician.roles = ["technician", "QA officer"]
    technician.save()
    return technician


def sign(client: Any, batch: Any, secret: str = SECRET) -> Any:
    return client.post(f"/review/{batch.number}/approve/", {"sign-secret": secret})


def note_every_flag(client: Any, batch: Any, words: str = "Looked at the sheet and stem again.") -> None:
    for flag in Flag.objects.filter(result__run__batch=batch).exclude(severity="note"):
        place = f"flag_{flag.pk}"
        answer = client.post(f"/review/flags/{flag.pk}/", {f"{place}-note": words, f"{place}-printed": "on"})
        assert answer.status_code == 302


def test_the_list_and_the_page_show_quality_control_first(
    submitted_batch: Any, qa_officer: Any, as_person: Any
) -> None:
    client = as_person(qa_officer)
    assert submitted_batch.number in client.get("/review/").content.decode()
    shown = client.get(f"/review/{submitted_batch.number}/").content.decode()
    assert shown.index("Quality control") < shown.index("2. Flags") < shown.index("5. Signature")
    assert "Tomas Example" in shown


def test_an_approved_batch_is_signed(submitted_batch: Any, qa_officer: Any, as_person: Any) -> None:
    client = as_person(qa_officer)
    note_every_flag(client, submitted_batch)
    assert sign(client, submitted_batch).status_code == 302
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "approved"
    assert submitted_batch.approved_by == qa_officer
    signed = Approval.objects.get()
    assert (signed.batch, signed.by, signed.rule) == (submitted_batch, qa_officer, 2)
    assert signed.meaning.startswith("I have reviewed the blank")
    assert submitted_batch.approved_digest == hashlib.sha256(signed.covered.encode()).hexdigest()


def test_a_wrong_password_signs_nothing(submitted_batch: Any, qa_officer: Any, as_person: Any) -> None:
    client = as_person(qa_officer)
    note_every_flag(client, submitted_batch)
    answer = sign(client, submitted_batch, "not the password at all")
    assert answer.status_code == 403
    assert "nothing was signed" in answer.content.decode()
    assert b"not the password at all" not in answer.content
    assert sign(client, submitted_batch, "").status_code == 422
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "submitted for review"


def test_whoever_read_or_weighed_cannot_approve(
    submitted_batch: Any, worker_who_reviews: Any, as_person: Any
) -> None:
    client = as_person(worker_who_reviews)
    shown = client.get(f"/review/{submitted_batch.number}/").content.decode()
    assert "Somebody else must review it" in shown
    assert "Sign and approve" not in shown
    assert sign(client, submitted_batch).status_code == 403
    with pytest.raises(NotThisPerson):
        approval.approve(submitted_batch, by=worker_who_reviews, at=timezone.now(), secret=SECRET)


def test_the_database_refuses_that_approval_too(submitted_batch: Any, technician: Any) -> None:
    update = """UPDATE batches_batch SET state = 'approved', approved_by_id = %s, approved_at = now(),
                approved_digest = 'x' WHERE id = %s"""
    with (
        pytest.raises((IntegrityError, InternalError), match="nobody approves"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(update, [technician.pk, submitted_batch.pk])


def test_a_stop_needs_words_and_a_decision(stopped_batch: Any, qa_officer: Any, as_person: Any) -> None:
    client = as_person(qa_officer)
    blocked = sign(client, stopped_batch)
    assert blocked.status_code == 409
    assert "without a reviewer" in blocked.content.decode()
    stop = Flag.objects.filter(severity="stop").first()
    assert stop is not None
    place = f"flag_{stop.pk}"
    terse = client.post(f"/review/flags/{stop.pk}/", {f"{place}-note": "OK"})
    assert terse.status_code == 409
    assert "A stop needs a sentence" in terse.content.decode()
    assert ">\nOK</textarea>" in terse.content.decode()
    note_every_flag(client, stopped_batch)
    assert FlagReview.objects.filter(flag__severity="stop", printed=False).count() == 0
    undecided = sign(client, stopped_batch)
    assert undecided.status_code == 409
    assert "decide whether it is repeated" in undecided.content.decode()


@pytest.mark.parametrize(
    ("choice", "sample_state"), [("repeat", "prepared"), ("without figures", "approved")]
)
def test_a_stopped_run_is_repeated_or_reported_without_figures(
    stopped_batch: Any, qa_officer: Any, as_person: Any, choice: str, sample_state: str
) -> None:
    client = as_person(qa_officer)
    note_every_flag(client, stopped_batch)
    run = stopped_batch.sample_runs.get()
    place, address = f"decide_{result_in_force(run).pk}", f"/review/results/{result_in_force(run).pk}/decide/"
    assert client.post(address, {f"{place}-choice": "report", f"{place}-note": ""}).status_code == 409
    assert client.post(address, {f"{place}-choice": choice, f"{place}-note": ""}).status_code == 409
    assert (
        client.post(address, {f"{place}-choice": choice, f"{place}-note": "It flocculated."}).status_code
        == 302
    )
    assert RunDecision.objects.get().choice == choice
    assert sign(client, stopped_batch).status_code == 302
    run.portion.sample.refresh_from_db()
    assert run.portion.sample.state == sample_state


def test_returning_needs_a_reason_and_opens_the_bench(
    submitted_batch: Any, qa_officer: Any, technician: Any, as_person: Any, work_off: Any
) -> None:
    client, address = as_person(qa_officer), f"/review/{submitted_batch.number}/return/"
    assert client.post(address, {"return-reason": ""}).status_code == 422
    assert client.post(address, {"return-reason": "Read the 60 s again on the sheet."}).status_code == 302
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "returned to bench"
    run = submitted_batch.sample_runs.get()
    typed = {"slot_s": 60, "state": "read", "reading": "23.0", "elapsed_s": 60, "temperature_c": "20.0"}
    factories.stored("reading", technician, run=run.pk, source="paper", reason="Misread.", **typed)
    assert as_person(technician).post(f"/batches/{submitted_batch.number}/submit/").status_code == 409
    work_off()
    assert as_person(technician).post(f"/batches/{submitted_batch.number}/submit/").status_code == 302
    shown = client.get(f"/review/{submitted_batch.number}/").content.decode()
    assert "Misread." in shown


def test_refused_entries_are_shown_to_the_reviewer(
    running: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    factories.send(
        "reading", technician, run=running.pk, slot_s=30, state="read", reading="85", source="tablet"
    )
    shown = as_person(qa_officer).get(f"/review/{running.batch.number}/").content.decode()
    assert "Time of the schedule: 30; What happened: read; Reading: 85; Source: Tablet" in shown


def test_what_was_typed_and_refused_carries_the_labels_of_its_form(
    prepared_sample: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    def shown(kind: str, **typed: object) -> dict[str, str]:
        factories.send(kind, technician, **typed)
        return dict(shown_as_typed(Entry.objects.filter(kind=kind).latest("pk")))

    assert shown("weighing", portion=0, balance=bench.balance.pk, tin_oven_dry_g="29,8") == {
        "Balance": "balance B-1",
        "Tin with oven-dry soil": "29,8",
    }
    assert shown("preparation", drying_temperature_c="380", crushing="mill", fine_earth_g="") == {
        "Drying temperature": "380",
        "Crushing": "mill",
    }
    assert shown("pretreatment", remove_carbonates="leave", agreed="on", fizz="fierce") == {
        "Carbonates": "Leave",
        "Agreed with the client": "ticked",
        "Fizz with acid": "fierce",
    }
    assert shown("weighing", balance="B-1", beaker_colour="blue") == {
        "Balance": "B-1",
        "Beaker colour": "blue",
    }
    assert shown("no kind", beaker_colour="blue") == {"Beaker colour": "blue"}


def test_rejecting_sends_every_sample_back(submitted_batch: Any, qa_officer: Any, as_person: Any) -> None:
    client, address = as_person(qa_officer), f"/review/{submitted_batch.number}/reject/"
    assert client.post(address, {"reject-reason": ""}).status_code == 422
    assert client.post(address, {"reject-reason": "The blank had no dispersant."}).status_code == 302
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "rejected"
    assert submitted_batch.sample_runs.get().portion.sample.state == "prepared"
    assert client.post(address, {"reject-reason": "Again."}).status_code == 409


@pytest.mark.parametrize("person", ["clerk", "technician", "custodian", "manager", "client_person"])
def test_who_may_not_review(
    submitted_batch: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.get("/review/").status_code == 403
    assert client.get(f"/review/{submitted_batch.number}/").status_code == 403
    assert sign(client, submitted_batch).status_code == 403
    for act in ("return", "reject"):
        assert client.post(f"/review/{submitted_batch.number}/{act}/").status_code == 403
