"""Review by somebody else, up to the signature."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest
from django.db import IntegrityError, InternalError, connection, transaction
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.entries.pages import shown_as_typed
from batches.models import Approval, CauseAnswer, Entry, FlagReview, RunDecision
from batches.review import rules as approval
from particles.records.refusals import NotThisPerson
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import WORDS, look_at_quality, settle

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def worker_who_reviews(technician: Any) -> Any:
    technician.roles = ["technician", "QA officer"]
    technician.save()
    return technician


def sign(client: Any, batch: Any, secret: str = SECRET) -> Any:
    return client.post(f"/review/{batch.number}/approve/", {"sign-secret": secret})


def test_samples_are_shown_after_quality_control_was_looked_at(
    submitted_batch: Any, qa_officer: Any, as_person: Any
) -> None:
    client, address = as_person(qa_officer), f"/review/{submitted_batch.number}/"
    assert submitted_batch.number in client.get("/review/").content.decode()
    before = client.get(address).content.decode()
    assert "Quality control" in before
    assert "Tomas Example" in before
    assert "Samples, cylinder by cylinder" not in before
    assert "Sign and approve" not in before
    assert client.post(f"{address}quality/", {"look-note": "ok"}).status_code == 409, "no duplicate was run"
    kept = client.post(f"{address}quality/", {"look-note": "One sample alone, as the client asked."})
    assert kept["Location"] == f"{address}#verdict"
    after = client.get(address).content.decode()
    assert (
        after.index("Quality control") < after.index("Causes") < after.index("Samples, cylinder by cylinder")
    )
    assert after.index("Samples, cylinder by cylinder") < after.index("Sign and approve")
    assert "Kept: quality control was looked at." in after


def test_quality_control_that_did_not_pass_keeps_from_signing(
    submitted_batch: Any, qa_officer: Any, as_person: Any
) -> None:
    answer = sign(as_person(qa_officer), submitted_batch)
    assert answer.status_code == 409
    assert "Quality control did not pass, and nobody has answered it." in answer.content.decode()


def test_an_approved_batch_is_signed(submitted_batch: Any, qa_officer: Any, as_person: Any) -> None:
    client = as_person(qa_officer)
    settle(submitted_batch, qa_officer)
    assert sign(client, submitted_batch).status_code == 302
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "approved"
    assert submitted_batch.approved_by == qa_officer
    signed = Approval.objects.get()
    assert (signed.batch, signed.by, signed.rule) == (submitted_batch, qa_officer, 2)
    assert signed.meaning.startswith("I have reviewed the quality control")
    assert WORDS in signed.covered, "what was said to quality control and causes is signed too"
    assert submitted_batch.approved_digest == hashlib.sha256(signed.covered.encode()).hexdigest()


def test_a_wrong_password_signs_nothing(submitted_batch: Any, qa_officer: Any, as_person: Any) -> None:
    client = as_person(qa_officer)
    settle(submitted_batch, qa_officer)
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


def test_a_stop_takes_a_decision_and_no_mere_note(
    stopped_batch: Any, qa_officer: Any, as_person: Any
) -> None:
    """Bench faults 43 and 44: a rise that a reading cannot have is decided, or nothing is signed."""
    client, address = as_person(qa_officer), f"/review/{stopped_batch.number}/"
    look_at_quality(stopped_batch, qa_officer)
    blocked = sign(client, stopped_batch)
    assert blocked.status_code == 409
    assert "waits for a decision" in blocked.content.decode()
    row = next(row for row in client.get(address).context["causes"] if row.needs_decision)
    answer, run = f"{address}causes/{row.cause.key}/", stopped_batch.sample_runs.get()

    def decided(choice: str, note: str, **more: Any) -> Any:
        typed = {"choice": choice, "note": note, "labels": [run.title], **more}
        return client.post(answer, {f"{row.place}-{name}": value for name, value in typed.items()})

    terse = decided("repeat", "OK")
    assert terse.status_code == 409
    assert "This needs a sentence" in terse.content.decode()
    assert ">\nOK</textarea>" in terse.content.decode()
    assert decided("noted", "Looked at stem and sheet again.").status_code == 422, "no choice of the form"
    standing = decided("figures stand", "Looked at stem and sheet again.", evidence="compared")
    assert standing.status_code == 409
    assert "its figures cannot stand" in standing.content.decode()
    assert CauseAnswer.objects.count() == 0
    assert decided("repeat", "Looked at stem and sheet again.").status_code == 302
    assert FlagReview.objects.filter(flag__severity="stop", printed=False).count() == 0
    assert RunDecision.objects.get().choice == "repeat"


@pytest.mark.parametrize(
    ("choice", "sample_state"), [("repeat", "prepared"), ("without figures", "approved")]
)
def test_a_stopped_run_is_repeated_or_reported_without_figures(
    stopped_batch: Any, qa_officer: Any, as_person: Any, choice: str, sample_state: str
) -> None:
    client = as_person(qa_officer)
    settle(stopped_batch, qa_officer)
    run = stopped_batch.sample_runs.get()
    result = result_in_force(run)
    place, address = f"decide_{result.pk}", f"/review/results/{result.pk}/decide/"

    def decided(which: str, note: str) -> int:
        typed = {f"{place}-choice": which, f"{place}-note": note}
        return int(client.post(address, typed).status_code)

    assert decided("report", "") == 409
    assert decided(choice, "") == 409
    assert decided(choice, "The clay flocculated in this cylinder.") == 302
    assert RunDecision.objects.latest("pk").choice == choice
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


def test_the_manager_looks_and_does_not_act(submitted_batch: Any, manager: Any, as_person: Any) -> None:
    client, address = as_person(manager), f"/review/{submitted_batch.number}/"
    assert submitted_batch.number in client.get("/review/").content.decode()
    shown = client.get(address).content.decode()
    assert "Your role looks at reviews and does not act in them." in shown
    assert "Samples, cylinder by cylinder" in shown
    assert "<button" not in shown[shown.index("<main") : shown.index("</main>")]
    assert sign(client, submitted_batch).status_code == 403
    for act in ("return", "reject", "quality", "causes/0123456789abcdef"):
        assert client.post(f"{address}{act}/").status_code == 403


@pytest.mark.parametrize("person", ["clerk", "technician", "custodian", "client_person"])
def test_who_may_not_review(
    submitted_batch: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.get("/review/").status_code == 403
    assert client.get(f"/review/{submitted_batch.number}/").status_code == 403
    assert sign(client, submitted_batch).status_code == 403
    for act in ("return", "reject"):
        assert client.post(f"/review/{submitted_batch.number}/{act}/").status_code == 403
