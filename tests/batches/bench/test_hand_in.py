"""What somebody took and left on a shared tablet goes in under their name, with the next person as the witness."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth import get_user_model
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.models import Entry, HandedIn, Reading
from batches.planning.four_eyes import people_in
from particles.records.act import Side

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def witness(bench: Any) -> Any:
    return get_user_model().objects.create(username="tilda", first_name="Tilda", roles=["technician"])


@pytest.fixture
def hand_in(as_person: Any, witness: Any) -> Any:
    """Post an entry that somebody took, as the witness."""

    def send(taken_by: Any, content: Any, entry_id: Any = None, **more: Any) -> Any:
        body = {"entry_id": str(entry_id or uuid4()), "kind": "reading", "content": content, "by": taken_by}
        sent = body | {"witnessed": True} | more
        return as_person(witness).post("/bench/entries/", sent, content_type="application/json")

    return send


def test_it_stays_whose_it_is_and_the_witness_has_worked_in_the_batch_too(
    running: Any, a_reading: Any, technician: Any, witness: Any, hand_in: Any, as_person: Any
) -> None:
    content, name = a_reading(running), uuid4()
    assert hand_in(technician.pk, content, name, witnessed=False).status_code == 403, "nobody said so"
    assert hand_in(technician.pk, content, name).status_code == 201
    again = hand_in(technician.pk, content, name)
    assert (again.status_code, again.json()["repeated"]) == (200, True)
    reading = Reading.objects.get()
    assert (reading.by, reading.entry.by) == (technician, technician)
    assert [(each.entry, each.by, each.run) for each in HandedIn.objects.all()] == [
        (reading.entry, witness, running)
    ]
    assert witness.pk in people_in(running.batch, Side.BENCH)
    page = as_person(technician).get(f"/runs/{running.pk}/").content.decode()
    assert "handed in by Tilda" in page


def test_a_refused_entry_keeps_its_witness_too(
    running: Any, a_reading: Any, technician: Any, witness: Any, hand_in: Any
) -> None:
    answer = hand_in(technician.pk, a_reading(running, reading="99"))
    assert answer.status_code == 409
    kept = HandedIn.objects.get()
    assert (kept.entry.by, kept.entry.verdict.outcome, kept.by) == (technician, "refused", witness)


def test_nobody_is_made_the_taker_who_may_not_read(
    running: Any, a_reading: Any, hand_in: Any, manager: Any, qa_officer: Any, technician: Any
) -> None:
    gone = get_user_model().objects.create(username="gone", roles=["technician"], is_active=False)
    for taker in (manager.pk, qa_officer.pk, gone.pk, 10**6, "3", None, True):
        answer = hand_in(taker, a_reading(running))
        assert answer.status_code == 403, taker
        assert "may not read at the bench" in answer.json()["sentence"]
    assert not Entry.objects.filter(kind="reading").exists()
    assert technician.has_perm("batches.read")


def test_the_database_takes_no_witness_of_ones_own(running: Any, technician: Any) -> None:
    entry = Entry.objects.filter(by=technician)[0]
    with pytest.raises(DatabaseError, match="a witness is another person"), transaction.atomic():
        HandedIn.objects.create(entry=entry, run=running, by=technician, at=timezone.now())
