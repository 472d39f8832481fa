"""The pages of a proficiency round: the officer's way, who may do what, and what is told. All figures invented."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.urls import reverse
from django.utils import timezone

from batches.models import AssignedValue, Round, RoundLock, RoundSample
from batches.proficiency import rules

pytestmark = pytest.mark.django_db(transaction=True)
REPORT = {"fraction": "clay", "value_pct": "20", "sigma_pt_pct": "1.5", "uncertainty_pct": "0.2"}


def test_the_officers_way_through_the_pages(
    signed_job: Any, qa_officer: Any, manager: Any, as_person: Any
) -> None:
    client, day = as_person(qa_officer), timezone.localdate() + timedelta(days=3)
    assert client.get("/rounds/").status_code == 200
    wrong = client.post("/rounds/open/", {"provider_code": "", "closes_on": "soon"})
    assert wrong.status_code == 422
    assert "Write it like 2026-12-31." in wrong.content.decode()
    made = client.post("/rounds/open/", {"provider_code": "PT-26-9", "closes_on": day.isoformat()})
    of = Round.objects.get()
    page = reverse("batches:round", args=[of.pk])
    assert (made.status_code, made["Location"]) == (302, page)
    unknown = client.post(f"{page}samples/", {"sample-lab_number": "26-99999", "sample-item": "A"})
    assert (unknown.status_code, "No sample has the number 26-99999." in unknown.content.decode()) == (
        422,
        True,
    )
    sample = signed_job.samples.order_by("line").first()
    assert (
        client.post(
            f"{page}samples/", {"sample-lab_number": sample.lab_number, "sample-item": "A"}
        ).status_code
        == 302
    )
    link = RoundSample.objects.get()
    again = client.post(f"{page}samples/", {"sample-lab_number": sample.lab_number, "sample-item": "C"})
    assert (again.status_code, "is A of round PT-26-9 already" in again.content.decode()) == (409, True)
    assert (
        client.post(f"{page}samples/{link.pk}/take-back/", {f"back_{link.pk}-reason": ""}).status_code == 422
    )
    assert client.post(f"{page}lock/").status_code == 302
    typed = {f"value-{name}": text for name, text in REPORT.items()} | {"value-link": link.pk}
    for wrong_typed, words in (
        ({"value-sigma_pt_pct": "0"}, "is not above 0: a score divides by it"),
        ({"value-participants_pct": "20.1; 19,8"}, "Write 19.8 if that is meant."),
        ({"value-participants_pct": "20.1 abc"}, "is not a number"),
        ({"value-participants_pct": "20.1 2010"}, "is no percentage"),
        ({"value-participants_pct": "20.12345"}, "has more digits than are kept"),
    ):
        refused = client.post(f"{page}report/", typed | wrong_typed)
        assert (refused.status_code, words in refused.content.decode()) == (422, True), words
    off = typed | {"value-value_pct": "5", "value-participants_pct": "20.1 19.8\n20.4; 21 19.5 20.2 30"}
    assert client.post(f"{page}report/", off).status_code == 302
    kept = AssignedValue.objects.get()
    assert len(kept.participants_pct) == 7
    shown = as_person(manager).get(page).content.decode()
    assert "clay: unsatisfactory" in shown
    assert "7 participants, robust mean 20.3" in shown
    assert "lies off the participants' middle" in shown
    assert "An answer in words is due from the QA officer." in shown
    assert "1 due" in as_person(manager).get("/rounds/").content.decode()
    answer = f"{page}answers/{kept.pk}/"
    short = {f"answer_{kept.pk}-cause": "ok", f"answer_{kept.pk}-action": "ok"}
    said = client.post(answer, short)
    assert said.status_code == 409
    assert "Say in a sentence what was looked at and found." in said.content.decode()
    whole = {
        f"answer_{kept.pk}-cause": "The line of another soil was typed from the report.",
        f"answer_{kept.pk}-action": "Typed anew by Quinn, before the end of the week.",
    }
    assert client.post(answer, whole).status_code == 302
    assert "none due" in client.get("/rounds/").content.decode()


def test_the_manager_may_look_and_keeps_nothing(lock: RoundLock, manager: Any, as_person: Any) -> None:
    client = as_person(manager)
    page = f"/rounds/{lock.round_id}/"
    assert "Enter the report" not in client.get(page).content.decode()
    for address in (
        "/rounds/open/",
        f"{page}samples/",
        f"{page}lock/",
        f"{page}report/",
        f"{page}answers/1/",
    ):
        assert client.post(address, {}).status_code == 403
    assert client.get(page).status_code == 200


def test_figures_altered_behind_the_programs_back_are_told(
    lock: RoundLock, qa_officer: Any, as_person: Any
) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute("UPDATE batches_roundlock SET figures = jsonb_set(figures, '{0,item}', '\"Z\"')")
    shown = as_person(qa_officer).get(f"/rounds/{lock.round_id}/").content.decode()
    assert "do not have the digest they were locked with" in shown


def test_a_closing_day_that_passed_is_told(
    the_round: Round, links: Any, qa_officer: Any, as_person: Any
) -> None:
    now = timezone.now()
    late = rules.open_round(
        provider_code="PT-25-9",
        closes_on=timezone.localdate() - timedelta(days=1),
        note="",
        by=qa_officer,
        at=now,
    )
    client = as_person(qa_officer)
    assert "The results were not locked in time." in client.get(f"/rounds/{late.pk}/").content.decode()
    assert "were not locked in time" not in client.get(f"/rounds/{the_round.pk}/").content.decode()
