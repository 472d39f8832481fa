"""What must never be false is refused by the database itself, whoever asks it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from batches.computing.rules import ask_for_batch
from batches.models import Entry, Reading, Result, Run, RunStart, SieveMass, Weighing
from batches.review import rules as approval
from particles.records.refusals import NotThisPerson
from tests.conftest import SECRET
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def refused(statement: str, *values: Any) -> str:
    """Run raw SQL that must fail; returns what the database said."""
    with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)
    return str(caught.value)


@pytest.mark.parametrize("model", [Reading, Weighing, Result, RunStart, Entry])
def test_what_was_measured_is_neither_changed_nor_deleted(submitted_batch: Any, model: Any) -> None:
    table, row = model._meta.db_table, model.objects.first()
    assert row is not None
    protection = "Cannot update or delete"
    assert protection in refused(f"UPDATE {table} SET id = id WHERE id = %s", row.pk)
    assert protection in refused(f"DELETE FROM {table} WHERE id = %s", row.pk)
    assert model.objects.filter(pk=row.pk).exists()


def test_a_batch_does_not_jump_over_its_steps(filled_batch: Any) -> None:
    jump = "UPDATE batches_batch SET state = 'submitted for review' WHERE id = %s"
    assert "Invalid transition" in refused(jump, filled_batch.pk)


def test_an_approved_state_without_a_signature_is_refused(submitted_batch: Any) -> None:
    unsigned = "UPDATE batches_batch SET state = 'approved' WHERE id = %s"
    assert "approved_means_signed" in refused(unsigned, submitted_batch.pk)


def test_a_second_blank_is_refused(filled_batch: Any, bench: Any) -> None:
    insert = (
        """INSERT INTO batches_run (batch_id, cylinder_id, position, is_blank) VALUES (%s, %s, 9, true)"""
    )
    assert "one_blank_per_batch" in refused(insert, filled_batch.pk, bench.cylinders[5].pk)


def test_a_blank_holds_no_portion_and_a_run_needs_one(filled_batch: Any, bench: Any) -> None:
    insert = (
        """INSERT INTO batches_run (batch_id, cylinder_id, position, is_blank) VALUES (%s, %s, 9, false)"""
    )
    assert "a_run_is_a_portion_or_the_blank" in refused(insert, filled_batch.pk, bench.cylinders[5].pk)


def test_a_cylinder_starts_once(running: Any, technician: Any) -> None:
    entry = Entry.keep(uuid4(), "start", {}, by=technician, at=timezone.now())
    insert = """INSERT INTO batches_runstart (run_id, started_at, source, entry_id, by_id, at)
                VALUES (%s, now(), 'paper', %s, %s, now())"""
    assert "run_id" in refused(insert, running.pk, entry.pk, technician.pk)


def insert_reading(run: Run, technician: Any, **columns: Any) -> str:
    entry = Entry.keep(uuid4(), "reading", {}, by=technician, at=timezone.now())
    fields = {
        "run_id": run.pk,
        "slot_s": 30,
        "attempt": 7,
        "state": "read",
        "reading": "26.5",
        "elapsed_s": 30,
        "temperature_c": 20,
        "taken_at": timezone.now(),
        "hydrometer_id": run.batch.hydrometer_id,
        "thermometer_id": run.batch.thermometer_id,
        "source": "paper",
        "reason": "raw",
        "entry_id": entry.pk,
        "by_id": technician.pk,
        "at": timezone.now(),
    } | columns
    marks = ", ".join(["%s"] * len(fields))
    return refused(f"INSERT INTO batches_reading ({', '.join(fields)}) VALUES ({marks})", *fields.values())


def test_a_closed_batch_takes_no_reading(submitted_batch: Any, technician: Any) -> None:
    run = submitted_batch.sample_runs.get()
    assert "the batch is closed for readings" in insert_reading(run, technician)


@pytest.mark.parametrize(
    ("columns", "constraint"),
    [
        ({"reading": None}, "a_number_only_when_read"),
        ({"state": "missed", "reading": None}, "missed_says_why"),
        ({"state": "above scale"}, "a_number_only_when_read"),
        ({"reason": ""}, "a_correction_says_why"),
        ({"elapsed_s": 0}, "elapsed_time_positive"),
        ({"temperature_c": 68}, "temperature_possible"),
        ({"time_doubt_s": 3600}, "a_doubtful_time_says_why"),
    ],
)
def test_a_reading_that_contradicts_itself_is_refused(
    running: Any, technician: Any, columns: dict[str, Any], constraint: str
) -> None:
    assert constraint in insert_reading(running, technician, **columns)


def test_a_closed_batch_takes_no_mass(submitted_batch: Any, technician: Any, bench: Any) -> None:
    portion = submitted_batch.sample_runs.get().portion
    entry = Entry.keep(uuid4(), "weighing", {}, by=technician, at=timezone.now())
    insert = """INSERT INTO batches_weighing
                (portion_id, purpose, attempt, mass_g, balance_id, reason, entry_id, by_id, at)
                VALUES (%s, 'tin', 9, 1, %s, 'raw', %s, %s, now())"""
    said = refused(insert, portion.pk, bench.balance.pk, entry.pk, technician.pk)
    assert "the batch is closed for weighings" in said
    assert not SieveMass.objects.exists()


BESIDE_READING = {
    "batches_replunge": "turn, started_at, reason, source) VALUES (%s, %s, %s, now(), 2, now(), 'raw', 'paper')",
    "batches_observation": "what, note, seen_at) VALUES (%s, %s, %s, now(), 'spill', '', now())",
    "batches_runvoid": "why, note, voided_at) VALUES (%s, %s, %s, now(), 'the cylinder broke', '', now())",
}


def insert_beside(table: str, run: Run, person: Any) -> tuple[str, list[Any]]:
    entry = Entry.keep(uuid4(), "void", {}, by=person, at=timezone.now())
    return f"INSERT INTO {table} (run_id, entry_id, by_id, at, {BESIDE_READING[table]}", [
        run.pk,
        entry.pk,
        person.pk,
    ]


@pytest.mark.parametrize("table", BESIDE_READING)
def test_a_closed_batch_takes_nothing_else_from_the_bench(
    submitted_batch: Any, technician: Any, table: str
) -> None:
    insert, values = insert_beside(table, submitted_batch.sample_runs.get(), technician)
    assert "the batch is closed for readings" in refused(insert, *values)


@pytest.mark.parametrize("table", BESIDE_READING)
def test_what_the_bench_adds_is_neither_changed_nor_deleted(
    running: Any, technician: Any, table: str
) -> None:
    insert, values = insert_beside(table, running, technician)
    with connection.cursor() as cursor:
        cursor.execute(insert, values)
    assert "Cannot update or delete" in refused(f"UPDATE {table} SET by_id = by_id")
    assert "Cannot update or delete" in refused(f"DELETE FROM {table}")


@pytest.mark.parametrize("table", ["batches_observation", "batches_runvoid"])
def test_whoever_noted_or_voided_does_not_sign(
    the_client: Any, clerk: Any, technician: Any, bench: Any, qa_officer: Any, work_off: Any, table: str
) -> None:
    made = factories.measured_batch(the_client, clerk, technician, bench)
    insert, values = insert_beside(table, made.sample_runs.get(), qa_officer)
    with connection.cursor() as cursor:
        cursor.execute(insert, values)
    ask_for_batch(made, by=technician, at=timezone.now())
    work_off()
    approval.submit(made, by=technician, at=timezone.now())
    sign = """UPDATE batches_batch SET state = 'approved', approved_by_id = %s, approved_at = now(),
              approved_digest = 'raw' WHERE id = %s"""
    assert "nobody approves a batch they worked in" in refused(sign, qa_officer.pk, made.pk)
    with pytest.raises(NotThisPerson):
        approval.approve(made, by=qa_officer, at=timezone.now(), secret=SECRET)


@pytest.mark.parametrize(
    ("table", "changed", "constraint"),
    [
        ("batches_replunge", ("2, now(), 'raw'", "1, now(), 'raw'"), "the_first_start_comes_first"),
        ("batches_replunge", ("'raw'", "''"), "stirring_again_says_why"),
        ("batches_observation", ("'spill'", "'reading doubtful'"), "a_doubtful_reading_is_named"),
    ],
)
def test_what_the_bench_adds_does_not_contradict_itself(
    running: Any, technician: Any, table: str, changed: tuple[str, str], constraint: str
) -> None:
    insert, values = insert_beside(table, running, technician)
    assert constraint in refused(insert.replace(*changed), *values)
