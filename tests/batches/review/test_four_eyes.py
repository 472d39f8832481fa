"""Nobody signs a batch they worked in: each kind of act alone bars whoever did it, in Python and in SQL."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from batches.models import (
    Batch,
    BatchMove,
    BatchOfDay,
    BenchDay,
    BlankReading,
    DensityCorrection,
    Entry,
    Exchange,
    ExchangeUndone,
    FillingCorrection,
    FlagReview,
    FoundTimetable,
    HandedIn,
    KeptTimetable,
    LeftOut,
    LeftOutLifted,
    MassCorrection,
    NonconformingWork,
    Observation,
    Reading,
    Replunge,
    RunStart,
    RunVoid,
    SecondReading,
    SieveMass,
    TakenOut,
    Weighing,
)
from batches.planning.four_eyes import people_in
from particles.models import Portion, Preparation, PretreatmentDecision
from particles.records.act import Act, Side, acts_in_batches, kinds_of_act
from particles.records.refusals import NotThisPerson
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

PLANNING = "planning"


def done_by_another(kind: type[Act]) -> Callable[[Batch, Any], None]:
    """One act of the batch is given to another person; the others stay with whoever did them."""

    def plant(batch: Batch, by: Any) -> None:
        row = kind.done_in(batch).first()
        assert row is not None, f"the batch holds no {kind.__name__} to give away"
        kind._default_manager.filter(pk=row.pk).update(by=by)

    return plant


def added(kind: type[Act], **values: Any) -> Callable[[Batch, Any], None]:
    """One more act, by another person, with these values beside who and when."""

    def plant(batch: Batch, by: Any) -> None:
        run, now = batch.sample_runs.get(), timezone.now()
        known = {"first": run, "second": batch.blank, "weighing": run.portion.weighings.first()}
        known |= {"run": run, "portion": run.portion, "batch": batch, "started_at": now, "seen_at": now,
                  "voided_at": now, "balance": Weighing.objects.all()[0].balance, "taken_at": now,
                  "hydrometer": batch.hydrometer, "thermometer": batch.thermometer}  # fmt: skip
        fields = {field.name for field in kind._meta.fields}
        told = {name: value for name, value in known.items() if name in fields}
        if "entry" in fields:
            told["entry"] = Entry.objects.create(
                entry_id="00000000-0000-4000-8000-000000000001", kind="planted", content={}, by=by, received_at=now
            )  # fmt: skip
        kind._default_manager.create(**(told | values), by=by, at=now)

    return plant


def handed_in(batch: Batch, by: Any) -> None:
    """The entry is somebody's who does not sign here; handing it in is the act that is tried."""
    entry = batch.sample_runs.get().readings.all()[0].entry
    HandedIn.objects.create(entry=entry, run=batch.sample_runs.get(), by=by, at=timezone.now())


def planned_by_another(batch: Batch, by: Any) -> None:
    Batch.objects.filter(pk=batch.pk).update(planned_by=by)


def exchange_by_another(batch: Batch, by: Any) -> Exchange:
    added(Exchange, reason="Swapped.")(batch, by)
    return Exchange.objects.get()


def taken_back(batch: Batch, by: Any) -> None:
    """The exchange is somebody's who does not sign here; taking it back is the act that is tried."""
    made = exchange_by_another(batch, batch.planned_by)
    ExchangeUndone.objects.create(exchange=made, reason="Not so.", by=by, at=timezone.now())


def counted_again(batch: Batch, by: Any) -> None:
    added(LeftOut, slot_s=60, reason="Foam.")(batch, batch.planned_by)
    LeftOutLifted.objects.create(left_out=LeftOut.objects.get(), reason="No foam.", by=by, at=timezone.now())


def timetable_kept(batch: Batch, by: Any) -> None:
    now = timezone.now()
    day = BenchDay.objects.create(
        asked_by=batch.planned_by, asked_at=now, origin_at=now, asked={}, hours={}, search_asked_at=now
    )
    BatchOfDay.objects.create(day=day, batch=batch)
    found = FoundTimetable.objects.create(day=day, turn=1, acts=[], not_placed=[], found_at=now)
    KeptTimetable.objects.create(number=1, found=found, by=by, at=now)


PLANTED: dict[Any, Callable[[Batch, Any], None]] = {
    PLANNING: planned_by_another,
    BatchMove: done_by_another(BatchMove),
    Portion: done_by_another(Portion),
    Preparation: done_by_another(Preparation),
    PretreatmentDecision: done_by_another(PretreatmentDecision),
    Reading: done_by_another(Reading),
    RunStart: done_by_another(RunStart),
    Weighing: done_by_another(Weighing),
    DensityCorrection: added(
        DensityCorrection, particle_density_g_cm3="2.700", particle_density_measured=True, reason="Slip."
    ),
    Exchange: added(Exchange, reason="Swapped."),
    ExchangeUndone: taken_back,
    LeftOut: added(LeftOut, slot_s=60, reason="Foam."),
    LeftOutLifted: counted_again,
    MassCorrection: added(MassCorrection, mass_g="50", reason="Slip."),
    NonconformingWork: added(
        NonconformingWork, found="Wrong.", found_by="a client", approved="x", touches={}
    ),
    FillingCorrection: added(FillingCorrection, mixing_minutes="6.0", reason="Slip."),
    HandedIn: handed_in,
    BlankReading: added(BlankReading, reading="4.5", temperature_c="21.0", source="tablet"),
    KeptTimetable: timetable_kept,
    Observation: added(Observation, what="foam at the stem"),
    Replunge: added(Replunge, turn=2, reason="Bumped.", source="tablet"),
    RunVoid: added(RunVoid, why=RunVoid.Why.SPILL),
    SecondReading: added(SecondReading, slot_s=60, reading="20.0", elapsed_s="60", source="paper"),
    SieveMass: added(SieveMass, opening_um="53.0", retained_g="1.0000"),
    TakenOut: added(TakenOut, reason="The bag is empty."),
}


@contextmanager
def without_triggers() -> Any:
    """For planting only: no door of the program would take these rows now."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        yield


def sign_in_sql(batch: Batch, by: Any) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE batches_batch SET state = 'approved', approved_by_id = %s, approved_at = now(),"
            " approved_digest = 'x' WHERE id = %s",
            [by.pk, batch.pk],
        )


def test_every_kind_of_work_in_a_batch_is_planted_here() -> None:
    kinds = {kind for kind in PLANTED if kind != PLANNING}
    assert len(kinds) >= 14
    assert kinds == set(acts_in_batches(Side.BENCH))


def test_whoever_did_nothing_in_it_may_sign(submitted_batch: Any, qa_officer: Any) -> None:
    submitted_batch.require_other_person(qa_officer)
    sign_in_sql(submitted_batch, qa_officer)
    submitted_batch.refresh_from_db()
    assert (submitted_batch.state, submitted_batch.approved_by) == ("approved", qa_officer)


def test_one_act_alone_bars_from_the_signature(submitted_batch: Any, qa_officer: Any) -> None:
    """Each kind is planted alone and taken back again, so that one batch serves for all of them."""
    barred = []
    for kind, plant in PLANTED.items():
        with without_triggers():
            plant(submitted_batch, qa_officer)
            with connection.cursor() as cursor:
                cursor.execute("SET LOCAL session_replication_role = origin")
            batch = Batch.objects.get(pk=submitted_batch.pk)
            assert qa_officer.pk in batch.workers(), kind
            with pytest.raises(NotThisPerson, match="somebody else must review"):
                batch.require_other_person(qa_officer)
            with pytest.raises(DatabaseError, match="nobody approves a batch they worked in"):
                sign_in_sql(batch, qa_officer)
            barred.append(kind)
            transaction.set_rollback(True)
        assert qa_officer.pk not in Batch.objects.get(pk=submitted_batch.pk).workers()
    assert barred == list(PLANTED)


def test_handing_over_and_returning_are_no_work_in_the_batch(submitted_batch: Any, qa_officer: Any) -> None:
    batch = Batch.objects.get(pk=submitted_batch.pk)
    batch.transition("returned to bench", by=qa_officer, at=timezone.now(), reason="Look again.")
    assert qa_officer.pk not in batch.workers()


def test_whoever_reviewed_stands_on_the_other_side(
    stopped_batch: Any, qa_officer: Any, technician: Any
) -> None:
    assert people_in(stopped_batch, Side.REVIEW) == set()
    flag = stopped_batch.sample_runs.get().results.get().flags.exclude(severity="note").first()
    FlagReview.objects.create(flag=flag, note="Looked.", by=qa_officer, at=timezone.now())
    assert people_in(stopped_batch, Side.REVIEW) == {qa_officer.pk}
    assert people_in(stopped_batch, Side.BENCH) == {technician.pk}


def test_acts_of_another_batch_bar_nobody_here(
    submitted_batch: Any, the_client: Any, clerk: Any, manager: Any, bench: Any
) -> None:
    bench.cylinders = bench.cylinders[3:]
    job = factories.job(the_client, clerk)
    portion = factories.portion(factories.prepared(job.samples.get(), manager), manager, bench)
    other = factories.batch([portion], manager, bench, at=timezone.now(), filled=False)
    assert manager.pk in other.workers()
    assert manager.pk not in submitted_batch.workers()


def test_every_act_says_on_which_side_it_stands() -> None:
    kinds = list(kinds_of_act())
    assert len(kinds) >= 20
    assert {kind.side for kind in kinds} == {Side.BENCH, Side.REVIEW}
