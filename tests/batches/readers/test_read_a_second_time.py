"""Two people at one cylinder: second readings, and what becomes of two who read or start it at once."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.db import DatabaseError, transaction
from django.utils import timezone

from batches.bench.rules import current_readings
from batches.bench.state import state_of
from batches.computing.record import gather
from batches.models import Entry, Reading, RunStart, SecondReading
from batches.readers import rows
from batches.readers.choice import WITHIN_S
from batches.readers.rows import comparisons, seconds_of, seconds_since
from particles.distribution import record_digest
from tests.batches.readers.test_reader_differences import compared
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)
SLOT_S = 5400


@pytest.fixture
def tilda(db: None) -> Any:
    return get_user_model().objects.create(username="tilda", first_name="Tilda", roles=["technician"])


def reading(run: Any, **other: Any) -> dict[str, Any]:
    return {
        "run": run.pk,
        "slot_s": SLOT_S,
        "state": "read",
        "reading": "13.5",
        "elapsed_s": "5400",
        "temperature_c": "20.0",
        "source": "tablet",
    } | other


def second(run: Any, **other: Any) -> dict[str, Any]:
    return {
        "run": run.pk,
        "slot_s": SLOT_S,
        "reading": "14.0",
        "elapsed_s": "5406",
        "source": "tablet",
    } | other


def test_fault_60_two_who_take_the_same_reading_are_both_kept_and_the_first_counts(
    running: Any, technician: Any, tilda: Any
) -> None:
    """Bench fault 60: two values, seconds apart; the first complete one counts, the difference is kept."""
    factories.stored("reading", technician, **reading(running))
    answer = factories.send("reading", tilda, **reading(running, reading="14.5", elapsed_s="5404"))
    assert answer.stored
    assert answer.sentence.startswith(
        f"Kept as a second reading: that of {technician}, 13.5, came first and counts."
    )
    assert [(r.reading, r.by) for r in current_readings(running)] == [(Decimal("13.5"), technician)]
    kept = SecondReading.objects.get()
    assert (kept.reading, kept.by, kept.elapsed_s) == (Decimal("14.5"), tilda, Decimal(5404))
    (row,) = seconds_of(running)
    assert (row.difference_g_l, row.is_beyond) == (1.0, True)
    again = factories.send("reading", tilda, **reading(running, reading="15.0", elapsed_s="5405"))
    assert not again.stored, "one second look each"


def test_fault_60_a_value_minutes_later_is_another_reading_and_asks_for_its_reason(
    running: Any, technician: Any, tilda: Any
) -> None:
    """Bench fault 60, from the other side: beyond the seconds that two people may need it is a correction."""
    factories.stored("reading", technician, **reading(running))
    just = factories.send("reading", tilda, **reading(running, elapsed_s=str(5400 + WITHIN_S)))
    assert just.stored
    beyond = factories.send("reading", tilda, **reading(running, elapsed_s=str(5400.1 + WITHIN_S)))
    assert not beyond.stored
    assert "chosen on “From paper, corrections”, with the reason" in beyond.sentence
    own = factories.send("reading", technician, **reading(running, reading="14.0", elapsed_s="5401"))
    assert not own.stored, "nobody is their own second reader"
    corrected = factories.send("reading", tilda, **reading(running, reading="14.0", reason="Misread."))
    assert corrected.stored, "with a reason it is a correction, by whoever makes it"
    assert Reading.objects.count() == 2
    assert comparisons(seconds_of(running)) == [], "a first one corrected by another person compares nobody"


def test_fault_60_a_missed_slot_is_no_first_reading(running: Any, technician: Any, tilda: Any) -> None:
    """Bench fault 60: the first *complete* one counts."""
    missed = reading(
        running, state="missed", reading="", elapsed_s="", temperature_c="", reason="Called away."
    )
    factories.stored("reading", technician, **missed)
    assert not factories.send("reading", tilda, **reading(running)).stored
    assert not SecondReading.objects.exists()


def test_fault_61_two_who_start_one_cylinder_are_told_of_each_other(
    filled_batch: Any, technician: Any, tilda: Any
) -> None:
    """Bench fault 61: the first start stays, the second person reads whose it is, every tablet says who is at it."""
    run, at = filled_batch.runs.get(position=1), timezone.now() - timedelta(seconds=40)
    start = {"run": run.pk, "source": "tablet"}
    factories.stored("start", technician, started_at=at.isoformat(), **start)
    late = factories.send("start", tilda, started_at=(at + timedelta(seconds=3)).isoformat(), **start)
    assert not late.stored
    assert f", by {technician}; the first start stays" in late.sentence
    assert "If it was stirred again, say so" in late.sentence
    assert RunStart.objects.get().by == technician
    assert Entry.objects.filter(kind="start", by=tilda, verdict__outcome="refused").count() == 1, (
        "kept as typed"
    )
    shown = {each["pk"]: each["started_by"] for each in state_of([filled_batch])["batches"][0]["runs"]}
    assert shown[run.pk] == str(technician)
    assert {name for pk, name in shown.items() if pk != run.pk} == {None}


def test_the_second_look_may_come_first_from_a_quicker_tablet(
    running: Any, technician: Any, tilda: Any
) -> None:
    factories.stored("second reading", tilda, **second(running))
    assert seconds_of(running)[0].why_not == "no first reading of another person that still counts"
    factories.stored("reading", technician, **reading(running))
    (row,) = seconds_of(running)
    assert (row.why_not, row.difference_g_l, row.is_beyond) == ("", 0.5, False)
    (pair,) = comparisons([row])
    assert (pair.first, pair.second, pair.difference_g_l) == (str(technician), str(tilda), 0.5)


def test_no_figure_rests_on_a_second_look(measured: Any) -> None:
    run = measured.sample_runs.get()
    before = record_digest(gather(run), run.batch.method.edition)
    other = get_user_model().objects.create(username="otto", first_name="Otto", roles=["technician"])
    factories.stored("second reading", other, **second(run, reading="30.0"))
    assert record_digest(gather(run), run.batch.method.edition) == before


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"slot_s": "77"}, "77 s is not a time of"),
        ({"reading": "1.0215"}, "is a relative density"),
        ({"reading": "99"}, "is not on the stem"),
        ({"elapsed_s": "5410.1"}, "more than 10 s apart the soil has moved"),
        ({"elapsed_s": "900000"}, "after the laboratory's clock"),
        ({"reading": ""}, "Nothing was typed here."),
        ({"counted_from": "2026-03-01T08:00:00.000Z"}, "Look whether it was stirred again"),
    ],
)
def test_what_is_refused_is_said_and_kept(
    running: Any, technician: Any, tilda: Any, typed: dict[str, str], words: str
) -> None:
    factories.stored("reading", technician, **reading(running))
    answer = factories.send("second reading", tilda, **second(running, **typed))
    assert not answer.stored
    assert words in answer.sentence
    assert Entry.objects.filter(kind="second reading", by=tilda).count() == 1
    assert not SecondReading.objects.exists()


def test_nobody_is_their_own_second_reader_nor_reads_a_second_time_twice(
    running: Any, technician: Any, tilda: Any
) -> None:
    factories.stored("reading", technician, **reading(running))
    own = factories.send("second reading", technician, **second(running))
    assert "its second reader is somebody else" in own.sentence
    factories.stored("second reading", tilda, **second(running))
    assert (
        "a second time at 90 min already"
        in factories.send("second reading", tilda, **second(running)).sentence
    )


def test_the_database_refuses_the_same_reader_a_change_and_a_closed_batch(
    running: Any, technician: Any, tilda: Any
) -> None:
    factories.stored("reading", technician, **reading(running))
    factories.stored("second reading", tilda, **second(running))
    kept = SecondReading.objects.get()
    entry = Entry.keep(
        "6b0f0c5e-6a54-4f0a-8a52-0f7f0d0d1a03", "second reading", {}, by=technician, at=kept.at
    )
    fields = {
        name: getattr(kept, name) for name in ("run", "slot_s", "reading", "elapsed_s", "taken_at", "source")
    }
    with pytest.raises(DatabaseError, match="read by another person"), transaction.atomic():
        SecondReading.objects.create(**fields, entry=entry, by=technician, at=kept.at)
    with pytest.raises(DatabaseError, match="Cannot update or delete"), transaction.atomic():
        SecondReading.objects.update(reading=1)


def test_the_tablet_hears_which_slots_are_asked_until_somebody_has_looked(
    running: Any, technician: Any, tilda: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("batches.readers.choice.is_asked", lambda *where: where[-1] in {SLOT_S, 86400})

    def asked() -> list[int]:
        told = state_of([running.batch])["batches"][0]["runs"]
        return next(each["second_slots"] for each in told if each["pk"] == running.pk)

    assert asked() == [SLOT_S, 86400]
    factories.stored("reading", technician, **reading(running))
    assert asked() == [SLOT_S, 86400], "the first reading does not answer it"
    factories.stored("second reading", tilda, **second(running))
    assert asked() == [86400]


def test_the_page_of_the_readers_names_who_reads_high(
    running: Any, technician: Any, tilda: Any, qa_officer: Any, manager: Any, as_person: Any
) -> None:
    client = as_person(qa_officer)
    assert "No two people have read the same cylinder yet." in client.get("/readers/").content.decode()
    factories.stored("reading", technician, **reading(running))
    factories.stored("second reading", tilda, **second(running, reading="14.5"))
    shown = as_person(manager).get("/readers/").content.decode()
    assert "<b>1.00</b>, beyond" in shown
    assert f'<th scope="row">{tilda}</th><td class="number">1</td><td class="number">1</td>' in shown
    assert "reads constantly" not in shown, "one pair accuses nobody"
    told = client.get(f"/runs/{running.pk}/").content.decode()
    assert "more than two people may differ" in told
    assert "Second readings" not in as_person(technician).get(f"/runs/{running.pk}/").content.decode()


def test_fault_50_the_page_names_a_reader_shifted_over_many_pairs(
    qa_officer: Any, as_person: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bench fault 50: the page names the reader, the size and its uncertainty."""
    planted = compared({"Ada": 0.0, "Ben": 0.0, "Cleo": 0.75}, 90, 4)
    monkeypatch.setattr("batches.readers.views.comparisons", lambda _rows: planted)
    shown = as_person(qa_officer).get("/readers/").content.decode()
    assert shown.count("reads constantly") == 1
    assert "Cleo reads constantly higher than the others, by 0.7" in shown


def test_the_pages_queries_do_not_grow(
    running: Any, technician: Any, tilda: Any, django_assert_max_num_queries: Any
) -> None:
    factories.stored("reading", technician, **reading(running))
    factories.stored("second reading", tilda, **second(running))
    with django_assert_max_num_queries(3):
        found = seconds_since(timezone.now() - timedelta(days=365))
        assert comparisons(found)
    with django_assert_max_num_queries(6):
        assert rows.asked_rows()


@pytest.mark.parametrize("person", ["clerk", "technician", "custodian", "client_person"])
def test_who_may_not_see_the_readers(as_person: Any, request: pytest.FixtureRequest, person: str) -> None:
    assert as_person(request.getfixturevalue(person)).get("/readers/").status_code == 403
