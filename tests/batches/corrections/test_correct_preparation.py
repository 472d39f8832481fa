"""A wrong preparation is superseded with who, when and why; what rests on it becomes stale."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.entries.door import receive
from batches.models import ComputationRequest, Entry
from batches.review import rules as approval
from batches.review.examination import examine
from batches.review.rules import fresh_result
from particles.models import Preparation
from particles.records.refusals import NotThisPerson
from tests.conftest import SECRET
from tests.support import factories
from tests.support.at_once import together
from tests.support.reviewing import look_at_quality, settle

pytestmark = pytest.mark.django_db(transaction=True)

WHY = "The gravel of the next bag was typed."


def address(sample: Any) -> str:
    return reverse("batches:prepare", args=[sample.lab_number])


def correction(sample: Any, **typed: Any) -> dict[str, str]:
    """What the page sends that shows the preparation in force."""
    return {
        "entry_id": str(uuid4()),
        "seen": str(sample.preparation.pk),
        "drying_temperature_c": "38",
        "drying_hours": "48",
        "crushing": "by hand",
        "fine_earth_g": "412.5",
        "gravel_g": "37.5",
        "reason": WHY,
    } | typed


@pytest.fixture
def sample(measured: Any) -> Any:
    return measured.sample_runs.get().sample


def approve(batch: Any, technician: Any, qa_officer: Any) -> None:
    approval.submit(batch, by=technician, at=timezone.now())
    settle(batch, qa_officer)
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)


def test_both_preparations_stay_and_the_last_one_counts(sample: Any, technician: Any, as_person: Any) -> None:
    browser, first = as_person(technician), sample.preparation
    page = browser.get(address(sample)).content.decode()
    assert 'value="412.5"' in page, "what is on record is shown to be changed"
    assert browser.post(address(sample), correction(sample)).status_code == 302
    newest = sample.preparation
    assert (newest.supersedes, newest.reason, newest.by) == (first, WHY, technician)
    assert (first.gravel_g, newest.gravel_g) == (Decimal(0), Decimal("37.5"))
    shown = browser.get(address(sample)).content.decode()
    assert "superseded" in shown
    assert WHY in shown


def test_a_result_that_rests_on_it_becomes_stale_and_is_asked_for_again(
    measured: Any, sample: Any, technician: Any, as_person: Any, work_off: Callable[[], int]
) -> None:
    run = measured.sample_runs.get()
    before = fresh_result(run)
    assert before is not None
    as_person(technician).post(address(sample), correction(sample))
    assert fresh_result(run) is None
    assert ComputationRequest.objects.filter(run=run, state="asked").count() == 1
    with pytest.raises(Exception, match="Not computed yet"):
        approval.submit(measured, by=technician, at=timezone.now())
    assert work_off() == 1
    after = fresh_result(run)
    assert after is not None
    assert after.inputs["gravel_pct"] == pytest.approx(100 * 37.5 / 450)
    assert run.results.count() == 2, "the earlier result stays"


def test_what_is_no_input_of_the_figures_leaves_the_result_as_it_is(
    measured: Any, sample: Any, technician: Any, as_person: Any
) -> None:
    before = fresh_result(measured.sample_runs.get())
    typed = correction(sample, gravel_g="0", drying_hours="47", reason="Misread the clock.")
    assert as_person(technician).post(address(sample), typed).status_code == 302
    assert fresh_result(measured.sample_runs.get()) == before


def test_the_reviewer_sees_both(
    measured: Any, sample: Any, technician: Any, qa_officer: Any, as_person: Any, work_off: Any
) -> None:
    as_person(technician).post(address(sample), correction(sample, gravel_g="-4"))
    as_person(technician).post(address(sample), correction(sample))
    work_off()
    approval.submit(measured, by=technician, at=timezone.now())
    shown = as_person(qa_officer).get(f"/review/{measured.number}/").content.decode()
    assert f"preparation of sample {sample.lab_number}" in shown
    assert "412.5 g finer and 0 g coarser than 2 mm" in shown
    assert "412.5 g finer and 37.5 g coarser than 2 mm" in shown
    assert WHY in shown
    assert "Coarser than 2 mm: -4" in shown, "the refused entry"


@pytest.mark.parametrize(
    ("typed", "status", "words"),
    [
        ({"reason": ""}, 422, "Say what was wrong"),
        ({"gravel_g": "37,5"}, 422, "has a comma"),
        ({"gravel_g": "0"}, 409, "on record already"),
    ],
)
def test_a_refused_correction_is_kept_as_typed_with_the_reason(
    sample: Any, technician: Any, as_person: Any, typed: dict[str, str], status: int, words: str
) -> None:
    answer = as_person(technician).post(address(sample), correction(sample, **typed))
    assert answer.status_code == status
    assert words in answer.content.decode()
    assert Preparation.objects.filter(sample=sample).count() == 1
    entry = Entry.objects.get(kind="preparation")
    assert words in entry.verdict.sentence
    ((name, value),) = typed.items()
    assert entry.content[name] == value


def test_the_same_correction_sent_twice_is_one(sample: Any, technician: Any, as_person: Any) -> None:
    typed = correction(sample)
    for _ in range(2):
        assert as_person(technician).post(address(sample), typed).status_code == 302
    assert Preparation.objects.filter(sample=sample).count() == 2


def test_of_two_corrections_at_once_one_is_kept_and_the_other_is_told(sample: Any, technician: Any) -> None:
    first = str(sample.preparation.pk)
    typed = {k: v for k, v in correction(sample).items() if k != "entry_id"} | {"sample": str(sample.pk)}
    masses = ("37.5", "38.5", "39.5", "40.5")

    def send(gravel_g: str) -> Any:
        content = typed | {"gravel_g": gravel_g, "seen": first}
        return receive(uuid4(), "preparation", content, by=technician, at=timezone.now())

    answers = together([lambda gravel_g=gravel_g: send(gravel_g) for gravel_g in masses])
    assert sorted(answer.stored for answer in answers) == [False, False, False, True]
    assert all("meanwhile" in answer.sentence for answer in answers if not answer.stored)
    assert Preparation.objects.filter(sample=sample).count() == 2
    assert Entry.objects.filter(kind="preparation").count() == 4, "what lost is kept as typed"


def test_whoever_lost_reads_the_other_and_may_correct_that(
    sample: Any, technician: Any, as_person: Any
) -> None:
    mine = correction(sample, gravel_g="12")
    as_person(technician).post(address(sample), correction(sample))
    answer = as_person(technician).post(address(sample), mine)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert 'value="12"' in page
    assert f'name="seen" value="{sample.preparation.pk}"' in page
    again = mine | {"seen": str(sample.preparation.pk), "entry_id": str(uuid4())}
    assert as_person(technician).post(address(sample), again).status_code == 302
    assert sample.preparation.gravel_g == 12


def test_the_page_of_one_bag_corrects_no_other(
    sample: Any, the_client: Any, clerk: Any, technician: Any, as_person: Any
) -> None:
    other = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    answer = as_person(technician).post(address(sample), correction(sample, seen=str(other.preparation.pk)))
    assert answer.status_code == 422
    assert f"belongs to sample {other.lab_number}" in answer.content.decode()
    assert other.preparations.count() == 1
    assert sample.preparations.count() == 1
    assert "belongs to" in Entry.objects.get(kind="preparation").verdict.sentence


def test_under_review_the_batch_goes_back_first(
    measured: Any, sample: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    approval.submit(measured, by=technician, at=timezone.now())
    answer = as_person(technician).post(address(sample), correction(sample))
    assert answer.status_code == 409
    assert "Ask the reviewer to return the batch" in answer.content.decode()
    approval.return_to_bench(measured, by=qa_officer, at=timezone.now(), reason="Gravel?")
    assert as_person(technician).post(address(sample), correction(sample)).status_code == 302
    assert ComputationRequest.objects.filter(state="asked").count() == 1


def test_after_approval_a_correction_is_refused_with_what_to_do(
    measured: Any, sample: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    approve(measured, technician, qa_officer)
    answer = as_person(technician).post(address(sample), correction(sample))
    assert answer.status_code == 409
    assert "What was signed stays. Tell the QA officer" in answer.content.decode()
    entry = Entry.objects.get(kind="preparation")
    assert "What was signed stays" in entry.verdict.sentence
    shown = as_person(technician).get(address(sample)).content.decode()
    assert "412.5" in shown, "what is recorded can still be looked at"
    assert "Record the correction" not in shown


def test_a_signed_batch_rests_on_the_preparation_of_that_day(
    measured: Any, sample: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    """A repeat sends the bag back; its preparation may then be corrected for the new portion."""
    approval.submit(measured, by=technician, at=timezone.now())
    run = measured.sample_runs.get()
    settle(measured, qa_officer)
    approval.decide(result_in_force(run), "repeat", note="Foam.", by=qa_officer, at=timezone.now())
    approval.approve(measured, by=qa_officer, at=timezone.now(), secret=SECRET)
    assert as_person(technician).post(address(sample), correction(sample)).status_code == 302
    measured.refresh_from_db()
    (examined,) = examine(measured)
    assert examined.record.gravel_pct == 0
    assert examined.result is not None


def test_whoever_reviewed_flags_corrects_nothing(
    measured: Any, sample: Any, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    qa_officer.roles = ["technician", "QA officer"]
    qa_officer.save()
    approval.submit(measured, by=technician, at=timezone.now())
    look_at_quality(measured, qa_officer)
    approval.return_to_bench(measured, by=qa_officer, at=timezone.now(), reason="Gravel?")
    answer = as_person(qa_officer).post(address(sample), correction(sample))
    assert "has reviewed flags" in answer.content.decode()
    assert sample.preparations.count() == 1


def test_whoever_weighed_the_gravel_does_not_approve(
    measured: Any, sample: Any, technician: Any, manager: Any, as_person: Any, work_off: Any
) -> None:
    manager.roles = ["technician", "QA officer"]
    manager.save()
    assert as_person(manager).post(address(sample), correction(sample)).status_code == 302
    work_off()
    approval.submit(measured, by=technician, at=timezone.now())
    with pytest.raises(NotThisPerson):
        approval.approve(measured, by=manager, at=timezone.now(), secret=SECRET)
    update = """UPDATE batches_batch SET state = 'approved', approved_by_id = %s, approved_at = now(),
                approved_digest = 'x' WHERE id = %s"""
    assert "nobody approves" in refused(update, manager.pk, measured.pk)


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "custodian", "manager", "client_person"])
def test_who_may_not(sample: Any, as_person: Any, request: pytest.FixtureRequest, person: str) -> None:
    browser = as_person(request.getfixturevalue(person))
    for name in ("prepare", "pretreatment"):
        place = reverse(f"batches:{name}", args=[sample.lab_number])
        assert browser.get(place).status_code == 403
        assert browser.post(place, correction(sample)).status_code == 403
    assert browser.get(reverse("batches:preparation")).status_code == 403
    assert sample.preparations.count() == 1
    assert not Entry.objects.filter(kind="preparation").exists()


def test_a_tablet_sends_no_preparation(sample: Any, send_entry: Any) -> None:
    answer = send_entry("preparation", correction(sample) | {"sample": str(sample.pk)})
    assert answer.status_code == 400
    assert sample.preparations.count() == 1


def refused(statement: str, *values: Any) -> str:
    with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)
    return str(caught.value)


INSERT = """INSERT INTO particles_preparation (sample_id, drying_temperature_c, drying_hours, crushing,
            fine_earth_g, gravel_g, supersedes_id, reason, by_id, at)
            VALUES (%s, 38, 48, 'by hand', 400, 1, %s, %s, %s, now())"""


def test_the_database_refuses_what_is_no_correction(
    sample: Any, technician: Any, the_client: Any, clerk: Any
) -> None:
    known, by = sample.preparation, technician.pk
    assert "Cannot update or delete" in refused(
        "UPDATE particles_preparation SET gravel_g = 1 WHERE id = %s", known.pk
    )
    assert "Cannot update or delete" in refused("DELETE FROM particles_preparation WHERE id = %s", known.pk)
    assert "this is recorded of a sample that is accepted" in refused(INSERT, sample.pk, None, None, by)
    assert "a_corrected_preparation_says_why" in refused(INSERT, sample.pk, known.pk, None, by)
    assert "a_corrected_preparation_says_why" in refused(INSERT, sample.pk, known.pk, "", by)
    other = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    assert "a correction is of the same sample" in refused(INSERT, other.pk, known.pk, WHY, by)
    known.correct(reason=WHY, by=technician, at=timezone.now(), gravel_g=Decimal(2), **UNCHANGED)
    assert "supersedes_id" in refused(INSERT, sample.pk, known.pk, WHY, by), "superseded once"


UNCHANGED = {
    "drying_temperature_c": Decimal(38),
    "drying_hours": Decimal(48),
    "crushing": "by hand",
    "fine_earth_g": Decimal("412.5"),
}


def test_the_database_refuses_a_correction_under_review(measured: Any, sample: Any, technician: Any) -> None:
    approval.submit(measured, by=technician, at=timezone.now() + timedelta(seconds=1))
    said = refused(INSERT, sample.pk, sample.preparation.pk, WHY, technician.pk)
    assert "nothing is corrected of a sample that is under review" in said


def test_of_two_who_prepare_a_bag_at_once_one_is_kept(the_job: Any, clerk: Any, technician: Any) -> None:
    bag = the_job.samples.first()
    bag.accept(by=clerk, at=timezone.now())
    typed = {"sample": str(bag.pk), "drying_temperature_c": "38", "drying_hours": "48", "crushing": "by hand"}

    def send(gravel_g: str) -> Any:
        content = typed | {"fine_earth_g": "412.5", "gravel_g": gravel_g}
        return receive(uuid4(), "preparation", content, by=technician, at=timezone.now())

    answers = together([lambda gravel_g=gravel_g: send(gravel_g) for gravel_g in ("1", "2", "3")])
    assert sorted(answer.stored for answer in answers) == [False, False, True]
    assert Preparation.objects.filter(sample=bag).count() == 1
    assert Entry.objects.filter(kind="preparation").count() == 3
