"""A run sheet typed in afterwards, without a script."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from batches.models import Entry, Reading, RunStart

pytestmark = pytest.mark.django_db(transaction=True)


def sheet(run: Any, rows: dict[int, dict[str, str]], started_at: Any = None) -> dict[str, str]:
    """What the form of one cylinder sends."""
    typed = {"run": str(run.pk), "start_entry_id": str(uuid4())}
    if started_at is not None:
        typed["started_at"] = f"{started_at:%Y-%m-%d %H:%M:%S}"
    for slot_s in (30, 60, 5400, 86400):
        fields = {"entry_id": str(uuid4()), "state": "read", "reason": ""} | rows.get(slot_s, {})
        typed |= {f"slot_{slot_s}_{name}": value for name, value in fields.items()}
    return typed


ROWS = {
    30: {"reading": "26.5", "elapsed_s": "31", "temperature_c": "20.0"},
    60: {"reading": "23.5", "elapsed_s": "1:02", "temperature_c": "20.0"},
    5400: {"reading": "13.5", "elapsed_s": "1:30:00", "temperature_c": "20.1"},
    86400: {"state": "missed", "reason": "Nobody at the bench."},
}


def test_start_and_filled_rows_are_kept_as_from_paper(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    run, started_at = filled_batch.blank, timezone.now() - timedelta(days=2)
    client, address = as_person(technician), f"/batches/{filled_batch.number}/paper/"
    assert client.get(address).status_code == 200
    typed = sheet(run, ROWS, started_at)
    assert client.post(address, typed).status_code == 302
    assert RunStart.objects.get().source == "paper"
    told = list(Reading.objects.values_list("slot_s", "state", "elapsed_s", "source"))
    assert [(s, state, str(e), source) for s, state, e, source in told] == [
        (30, "read", "31.0", "paper"),
        (60, "read", "62.0", "paper"),
        (5400, "read", "5400.0", "paper"),
        (86400, "missed", "None", "paper"),
    ]
    assert client.post(address, typed).status_code == 302, "the same sheet again"
    assert Reading.objects.count() == 4
    assert Entry.objects.exclude(kind="weighing").count() == 5


def test_refused_rows_keep_what_was_typed_and_the_others_stay(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    rows = ROWS | {60: {"reading": "23,5", "elapsed_s": "1:02", "temperature_c": "20.0"}}
    rows[5400] = {"reading": "13.5", "elapsed_s": "1:30:00", "temperature_c": "68"}
    client, address = as_person(technician), f"/batches/{filled_batch.number}/paper/"
    answer = client.post(address, sheet(filled_batch.blank, rows, timezone.now() - timedelta(days=2)))
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="23,5"' in shown
    assert "Fahrenheit" in shown
    assert 'value="26.5"' not in shown, "a kept row is shown as kept"
    assert sorted(Reading.objects.values_list("slot_s", flat=True)) == [30, 86400]


def test_rows_before_the_start_is_known_are_refused(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    address = f"/batches/{filled_batch.number}/paper/"
    answer = as_person(technician).post(address, sheet(filled_batch.blank, {30: ROWS[30]}))
    assert answer.status_code == 409
    assert "not “running”" in answer.content.decode() or "no readings are taken" in answer.content.decode()


def test_an_unreadable_start_is_named(filled_batch: Any, technician: Any, as_person: Any) -> None:
    typed = sheet(filled_batch.blank, {}) | {"started_at": "yesterday"}
    answer = as_person(technician).post(f"/batches/{filled_batch.number}/paper/", typed)
    assert answer.status_code == 422
    assert "not a date and time" in answer.content.decode()
    assert 'value="yesterday"' in answer.content.decode()


def test_a_form_without_entry_names_is_no_form(running: Any, technician: Any, as_person: Any) -> None:
    typed = sheet(running, {30: ROWS[30] | {"entry_id": "x"}})
    answer = as_person(technician).post(f"/batches/{running.batch.number}/paper/", typed)
    assert answer.status_code == 400
    assert not Reading.objects.exists()


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "client_person"])
def test_who_may_not_stand_at_the_bench(
    filled_batch: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    for page in ("paper", "bench", "bench/state"):
        assert client.get(f"/batches/{filled_batch.number}/{page}/").status_code == 403
    for page in ("", "state/"):
        assert client.get(f"/bench/{page}").status_code == 403
