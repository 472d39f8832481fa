"""A wrong decision on pretreatment is superseded, and the portion that rests on it with it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from batches.entries.door import receive
from batches.models import ComputationRequest, Entry
from batches.review import rules as approval
from batches.review.rules import fresh_result
from particles.models import PretreatmentDecision
from tests.support import factories
from tests.support.at_once import together

pytestmark = pytest.mark.django_db(transaction=True)

WHY = "Peroxide was used; the sheet of that day says so."


@pytest.fixture
def sample(measured: Any) -> Any:
    return measured.sample_runs.get().sample


def address(sample: Any) -> str:
    return reverse("batches:pretreatment", args=[sample.lab_number])


def removal(sample: Any, **typed: str) -> dict[str, str]:
    """Says that organic matter was removed after all."""
    return {
        "entry_id": str(uuid4()),
        "seen": str(sample.pretreatment.pk),
        "organic_matter_pct": "3.4",
        "conductivity_ds_m": "",
        "fizz": "none",
        "field_texture": "",
        "remove_organic_matter": "remove",
        "remove_carbonates": "leave",
        "remove_soluble_salts": "leave",
        "reason": "Much organic matter.",
        "why_superseded": WHY,
    } | typed


def test_the_result_becomes_stale_and_the_masses_wanted_are_others(
    measured: Any, sample: Any, technician: Any, as_person: Any, bench: Any, work_off: Any
) -> None:
    run = measured.sample_runs.get()
    assert fresh_result(run) is not None
    answer = as_person(technician).post(address(sample), removal(sample))
    assert answer["Location"] == reverse("batches:weigh", args=[sample.lab_number])
    assert fresh_result(run) is None
    assert work_off() == 1
    stopped = fresh_result(run)
    assert stopped is not None
    assert not stopped.certifiable, "no oven-dry mass after pretreatment yet"
    waiting = as_person(technician).get("/weighing/").content.decode()
    assert "oven-dry portion after pretreatment" in waiting
    factories.stored(
        "weighing", technician, portion=run.portion.pk, balance=bench.balance.pk, pretreated_g="38.00"
    )
    assert work_off() == 1
    mended = fresh_result(run)
    assert mended is not None
    assert mended.inputs["oven_dry_mass_g"] == 38.0


def test_the_certificate_and_the_review_follow_the_decision_in_force(
    measured: Any, sample: Any, technician: Any, qa_officer: Any, as_person: Any, bench: Any, work_off: Any
) -> None:
    as_person(technician).post(address(sample), removal(sample))
    factories.stored(
        "weighing", technician, portion=sample.portions.get().pk, balance=bench.balance.pk, pretreated_g="38"
    )
    work_off()
    approval.submit(measured, by=technician, at=timezone.now())
    run = measured.sample_runs.get()
    shown = as_person(qa_officer).get(f"/review/{measured.number}/").content.decode()
    assert f"pretreatment of sample {sample.lab_number}" in shown
    assert WHY in shown
    assert "organic matter removed" in as_person(qa_officer).get(f"/runs/{run.pk}/").content.decode()


def test_under_review_it_is_refused_and_kept(
    measured: Any, sample: Any, technician: Any, as_person: Any
) -> None:
    approval.submit(measured, by=technician, at=timezone.now())
    answer = as_person(technician).post(address(sample), removal(sample))
    assert answer.status_code == 409
    assert "Ask the reviewer to return the batch" in answer.content.decode()
    assert "Ask the reviewer" in Entry.objects.get(kind="pretreatment").verdict.sentence
    assert sample.pretreatment_decisions.count() == 1
    assert not ComputationRequest.objects.filter(state="asked").exists()


def test_the_same_form_sent_twice_is_one_decision(sample: Any, technician: Any, as_person: Any) -> None:
    typed = removal(sample)
    for _ in range(2):
        assert as_person(technician).post(address(sample), typed).status_code == 302
    assert sample.pretreatment_decisions.count() == 2


def test_of_several_corrections_at_once_one_is_kept(sample: Any, technician: Any) -> None:
    typed = {k: v for k, v in removal(sample).items() if k != "entry_id"} | {"sample": str(sample.pk)}

    def send(share: str) -> Any:
        content = typed | {"organic_matter_pct": share}
        return receive(uuid4(), "pretreatment", content, by=technician, at=timezone.now())

    answers = together([lambda share=share: send(share) for share in ("3.1", "3.2", "3.3")])
    assert sorted(answer.stored for answer in answers) == [False, False, True]
    assert sample.pretreatment_decisions.count() == 2
    assert Entry.objects.filter(kind="pretreatment").count() == 3


def test_a_correction_that_changes_nothing_is_refused(sample: Any, technician: Any, as_person: Any) -> None:
    same = removal(sample, organic_matter_pct="", fizz="not tried", remove_organic_matter="leave")
    answer = as_person(technician).post(address(sample), same | {"reason": sample.pretreatment.reason})
    assert answer.status_code == 409
    assert "on record already" in answer.content.decode()


@pytest.mark.parametrize(
    ("superseded", "why", "words"),
    [
        (True, None, "a_corrected_decision_says_why"),
        (True, "", "a_corrected_decision_says_why"),
        (False, None, "this is recorded of a sample that is prepared"),
    ],
)
def test_the_database_refuses_what_is_no_correction(
    sample: Any, technician: Any, superseded: bool, why: str | None, words: str
) -> None:
    insert = """INSERT INTO particles_pretreatmentdecision (sample_id, remove_organic_matter, remove_carbonates,
                remove_soluble_salts, fizz, field_texture, reason, supersedes_id, why_superseded, by_id, at)
                VALUES (%s, true, false, false, 'none', '', 'raw', %s, %s, %s, now())"""
    earlier = sample.pretreatment.pk if superseded else None
    with (
        pytest.raises(DatabaseError, match=words),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(insert, [sample.pk, earlier, why, technician.pk])
    assert PretreatmentDecision.objects.filter(sample=sample).count() == 1
