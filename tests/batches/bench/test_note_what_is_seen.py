"""Observations at the cylinder, and the act that makes a run void."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import Batch, Flag, Observation, Reading, RunVoid
from batches.review import rules as approval
from particles.distribution import Sight
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def see(send_entry: Any) -> Any:
    def send(run: Any, what: str, **other: Any) -> Any:
        more = {"by": other.pop("by", None), "entry_id": other.pop("entry_id", None)}
        typed = {"run": run.pk, "what": what, "seen_at": timezone.now().isoformat(), "slot_s": "", "note": ""}
        return send_entry("observation", {k: str(v) for k, v in (typed | other).items()}, **more)

    return send


@pytest.fixture
def make_void(send_entry: Any) -> Any:
    def send(run: Any, why: str = RunVoid.Why.SPILL, **other: Any) -> Any:
        by = other.pop("by", None)
        typed = {"run": run.pk, "why": why, "voided_at": timezone.now().isoformat(), "note": ""}
        return send_entry("void", {k: str(v) for k, v in (typed | other).items()}, by=by)

    return send


@pytest.mark.parametrize("what", [s for s in Sight if s is not Sight.DOUBTFUL])
def test_one_tap_is_kept_with_time_and_person(
    running: Any, see: Any, technician: Any, as_person: Any, what: Sight
) -> None:
    assert see(running, what.value).status_code == 201
    kept = Observation.objects.get()
    assert (kept.what, kept.by, kept.run) == (what.value, technician, running)
    page = as_person(technician).get(f"/runs/{running.pk}/").content.decode()
    assert what.value.capitalize() in page


@pytest.mark.parametrize(
    ("what", "other", "status", "words"),
    [
        ("a ghost", {}, 422, "Choose another"),
        (Sight.DOUBTFUL.value, {}, 409, "Say which reading"),
        (Sight.DOUBTFUL.value, {"slot_s": "45"}, 409, "not a time of"),
        (Sight.FOAM.value, {"seen_at": "now"}, 422, "not a date and time"),
        (Sight.FOAM.value, {"seen_at": (timezone.now() + timedelta(hours=9)).isoformat()}, 409, "laboratory's clock"),
        (Sight.FOAM.value, {"takes_back": str(uuid4())}, 422, "not kept by the laboratory"),
        (Sight.FOAM.value, {"takes_back": "that one"}, 422, "names no observation"),
    ],
)  # fmt: skip
def test_what_cannot_be_noted(
    running: Any, see: Any, what: str, other: dict[str, str], status: int, words: str
) -> None:
    answer = see(running, what, **other)
    assert answer.status_code == status
    assert words in answer.json()["sentence"]
    assert not Observation.objects.exists()


def test_a_tap_by_mistake_is_taken_back_once_and_both_stay(
    running: Any, see: Any, send_entry: Any, as_person: Any, technician: Any
) -> None:
    name = uuid4()
    see(running, Sight.SPILL.value, entry_id=name)
    back = {"takes_back": str(name), "note": "Tapped by mistake."}
    assert see(running, Sight.SPILL.value, **(back | {"note": ""})).status_code == 422
    assert see(running, Sight.FOAM.value, **back).status_code == 409
    assert see(running, Sight.SPILL.value, **back).status_code == 201
    assert see(running, Sight.SPILL.value, **back).status_code == 409
    assert Observation.objects.count() == 2
    page = as_person(technician).get(f"/runs/{running.pk}/").content.decode()
    assert "Tapped by mistake." in page
    told = as_person(technician).get(f"/batches/{running.batch.number}/bench/state/").json()["batches"][0]
    assert [run["seen"] for run in told["runs"]] == [[], [], []]


def test_what_was_seen_reaches_the_review_as_flags(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, see: Any, as_person: Any, qa_officer: Any
) -> None:  # fmt: skip
    made = factories.measured_batch(the_client, clerk, technician, bench)
    work_off()
    see(made.sample_runs.get(), Sight.CLEAR_ABOVE.value)
    see(made.blank, Sight.DOUBTFUL.value, slot_s="60")
    work_off()
    approval.submit(made, by=technician, at=timezone.now())
    look_at_quality(made, qa_officer)
    page = as_person(qa_officer).get(f"/review/{made.number}/").content.decode()
    assert "Clear liquid above a sharp front." in page
    assert "At the blank: reading doubtful, at the 60 s reading." in page
    with pytest.raises(approval.NotPossible, match="waits for"):
        approval.approve(made, by=qa_officer, at=timezone.now(), secret=SECRET)


def test_a_void_run_is_read_no_further_and_lets_the_batch_go_on(
    filled_batch: Any, send_entry: Any, a_reading: Any, make_void: Any, technician: Any, work_off: Any, qa_officer: Any
) -> None:  # fmt: skip
    spilled = filled_batch.runs.get(position=1)
    started_at = timezone.now() - timedelta(days=2)
    for run in filled_batch.runs.exclude(pk=spilled.pk):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=started_at)
    factories.stored("start", technician, run=spilled.pk, started_at=started_at.isoformat(), source="paper")
    send_entry("reading", a_reading(spilled))
    assert make_void(spilled, note="Half of it on the floor.").status_code == 201
    late = send_entry("reading", a_reading(spilled, slot_s=60, elapsed_s="60"))
    assert late.status_code == 409
    assert "is void: soil or liquid was lost (Half of it on the floor.)" in late.json()["sentence"]
    filled_batch.refresh_from_db()
    assert filled_batch.state == Batch.State.READINGS_COMPLETE
    work_off()
    result = spilled.results.get()
    assert result.certifiable is False
    assert Flag.objects.get(result=result, code="run_void").severity == "stop"
    approval.submit(filled_batch, by=technician, at=timezone.now())
    with pytest.raises(approval.NotPossible, match="No percentage leaves the laboratory"):
        approval.decide(result, "report", note="", by=qa_officer, at=timezone.now())
    assert Reading.objects.filter(run=spilled).count() == 1


def test_a_run_void_before_its_start_has_a_result_that_says_so(
    filled_batch: Any, make_void: Any, technician: Any, work_off: Any, as_person: Any
) -> None:
    mixed_up = filled_batch.runs.get(position=1)
    assert make_void(mixed_up, RunVoid.Why.WRONG_CYLINDER).status_code == 201
    start = {"run": str(mixed_up.pk), "started_at": timezone.now().isoformat(), "source": "tablet"}
    assert factories.send("start", technician, **start).stored is False
    for run in filled_batch.runs.exclude(pk=mixed_up.pk):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=timezone.now() - timedelta(days=2))
    work_off()
    approval.submit(Batch.objects.get(pk=filled_batch.pk), by=technician, at=timezone.now())
    codes = set(Flag.objects.filter(result__run=mixed_up).values_list("code", flat=True))
    assert codes == {"cannot_be_computed", "run_void"}
    page = as_person(technician).get(f"/batches/{filled_batch.number}/").content.decode()
    assert "void: emptied into the wrong cylinder" in page


def test_a_void_blank_stops_every_run(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, make_void: Any
) -> None:
    made = factories.measured_batch(the_client, clerk, technician, bench)
    work_off()
    assert make_void(made.blank, RunVoid.Why.NO_DISPERSANT).status_code == 201
    work_off()
    newest = result_in_force(made.sample_runs.get())
    assert newest is not None
    assert "its blank is void, no dispersant was added" in newest.flags.get(code="run_void").sentence


def test_void_is_said_once_by_who_may_and_not_after_the_batch_is_handed_over(
    submitted_batch: Any, running: Any, make_void: Any, clerk: Any
) -> None:
    assert make_void(running, by=clerk).status_code == 403
    assert make_void(running, "I do not like it").status_code == 422
    assert make_void(running).status_code == 201
    assert make_void(running).status_code == 409
    assert "submitted for review" in make_void(submitted_batch.sample_runs.get()).json()["sentence"]
    assert RunVoid.objects.get().by_id in running.batch.workers()


def test_the_database_keeps_them_as_they_are(running: Any, see: Any, make_void: Any) -> None:
    see(running, Sight.FOAM.value)
    make_void(running)
    for model, change in ((Observation, {"what": Sight.ROOTS.value}), (RunVoid, {"why": RunVoid.Why.BROKEN})):
        with pytest.raises(DatabaseError, match="never_changed"), transaction.atomic():
            model.objects.update(**change)
        with pytest.raises(DatabaseError, match="never_changed"), transaction.atomic():
            model.objects.all()._raw_delete("default")
