"""The blank read between the times of the schedule: it counts whenever it is taken, and serves by its temperature."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from batches.bench.blank import standing_blank_readings
from batches.bench.rules import time_zero
from batches.computing.models import result_in_force
from batches.computing.record import gather
from batches.models import BlankReading, Cylinder, Entry
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def once_more(send_entry: Any) -> Any:
    def send(run: Any, **other: Any) -> Any:
        typed = {
            "run": run.pk,
            "reading": "4.5",
            "temperature_c": "20.5",
            "taken_at": timezone.now().isoformat(),
            "source": "tablet",
            "note": "",
            "takes_back": "",
        }
        return send_entry("blank reading", {name: str(value) for name, value in (typed | other).items()})

    return send


def test_it_is_kept_with_person_and_moment_and_goes_into_every_run(
    measured: Any, once_more: Any, technician: Any, work_off: Any
) -> None:
    run, blank = measured.sample_runs.get(), measured.blank
    before = gather(run)
    assert len(before.blanks) == 4, "its own slots"
    at = time_zero(blank) + timedelta(hours=20)
    assert once_more(blank, taken_at=at.isoformat()).status_code == 201
    kept = BlankReading.objects.get()
    assert (kept.by, kept.taken_at, kept.hydrometer) == (technician, at, measured.hydrometer)
    after = gather(run)
    [more] = set(after.blanks) - set(before.blanks)
    assert (more.slot_s, more.reading, more.temperature_c) == (None, 4.5, 20.5)
    assert more.at_s == pytest.approx(20 * 3600.0)
    assert [each.at_s for each in after.blanks] == sorted(each.at_s for each in after.blanks)
    work_off()
    assert result_in_force(run).inputs["blanks"][-2]["reading"] == 4.5, "asked for anew by itself"


def test_a_slip_is_taken_back_and_both_stay_on_record(measured: Any, once_more: Any) -> None:
    blank = measured.blank
    once_more(blank, reading="45")
    entry = Entry.objects.get(kind="blank reading")
    answer = once_more(blank, takes_back=entry.entry_id, note="Typed by mistake.")
    assert answer.status_code == 201
    assert BlankReading.objects.count() == 2
    blank = measured.runs.get(is_blank=True)
    assert standing_blank_readings(blank) == []
    assert once_more(blank, takes_back=entry.entry_id, note="Again.").status_code == 409


@pytest.mark.parametrize(
    ("other", "status", "words"),
    [
        ({"reading": ""}, 422, "Type the reading"),
        ({"temperature_c": ""}, 422, "Type the temperature"),
        ({"reading": "70"}, 409, "not on the stem"),
        ({"temperature_c": "68"}, 409, "Fahrenheit"),
        ({"taken_at": "2031-01-01T00:00:00+00:00"}, 409, "after the laboratory's clock"),
        ({"taken_at": "2020-01-01T00:00:00+00:00"}, 409, "not started then"),
        ({"takes_back": "00000000-0000-4000-8000-000000000009", "note": "Slip."}, 422, "not kept by"),
    ],
)
def test_what_cannot_be_is_refused_and_kept_as_typed(
    measured: Any, once_more: Any, other: dict[str, str], status: int, words: str
) -> None:
    answer = once_more(measured.blank, **other)
    assert answer.status_code == status
    assert words in str(answer.json())
    assert BlankReading.objects.count() == 0
    assert Entry.objects.filter(kind="blank reading").count() == 1


def test_only_the_blank_is_read_in_between(measured: Any, once_more: Any) -> None:
    answer = once_more(measured.sample_runs.get())
    assert answer.status_code == 409
    assert "only the blank" in answer.json()["sentence"]


def test_a_batch_handed_over_takes_none_in_python_and_in_the_database(
    submitted_batch: Any, once_more: Any, technician: Any
) -> None:
    assert once_more(submitted_batch.blank).status_code == 409
    with pytest.raises(DatabaseError, match="closed for readings"), transaction.atomic():
        _row(submitted_batch, technician)


def _row(batch: Any, by: Any, **other: Any) -> BlankReading:
    now = timezone.now()
    entry = Entry.objects.create(
        entry_id="00000000-0000-4000-8000-000000000003", kind="planted", content={}, by=by, received_at=now
    )
    values = {"reading": "4.5", "temperature_c": "20.0"} | other
    return BlankReading.objects.create(
        run=batch.blank, taken_at=now, hydrometer=batch.hydrometer, thermometer=batch.thermometer,
        source="tablet", entry=entry, by=by, at=now, **values,
    )  # fmt: skip


def test_the_database_refuses_half_a_reading_and_any_change(measured: Any, technician: Any) -> None:
    with pytest.raises(IntegrityError, match="a_blank_reading_or_its_taking_back"), transaction.atomic():
        _row(measured, technician, reading=None)
    kept = _row(measured, technician)
    with pytest.raises(DatabaseError), transaction.atomic():
        BlankReading.objects.filter(pk=kept.pk).update(reading="5.0")


def test_a_blank_read_hours_away_at_one_temperature_raises_nothing(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any
) -> None:
    """A late cylinder: 90 min behind the blank, as the last of 24 started 4 min apart."""
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5))
    sample = factories.prepared(job.samples.get(), technician, at=now - timedelta(days=5))
    portion = factories.portion(sample, technician, bench)
    batch = factories.batch([portion], technician, bench, at=now - timedelta(days=3))
    started_at = now - timedelta(days=2)
    factories.read_run(batch.blank, technician, factories.BLANK_G_L, started_at=started_at)
    run = batch.sample_runs.get()
    late = started_at + timedelta(minutes=92)
    factories.read_run(run, technician, factories.LOAM_G_L, started_at=late)
    work_off()
    codes = set(result_in_force(run).flags.values_list("code", flat=True))
    assert not {code for code in codes if code.startswith("blank_")}


def test_a_blank_in_a_cylinder_of_another_volume_is_brought_to_the_run_s_liquid(measured: Any) -> None:
    """1,130 mL hold 4.42 g/L where 1,000 hold 5: by 0.63 per g/mL that is 0.59 g/L on the stem."""
    run = measured.sample_runs.get()
    assert gather(run).blank_dispersant_g_l is None
    wide = Cylinder.objects.create(
        serial="C-wide", inner_area_cm2=measured.blank.cylinder.inner_area_cm2, volume_ml=1130,
        checked_on=measured.blank.cylinder.checked_on, due_on=measured.blank.cylinder.due_on,
    )  # fmt: skip
    run = measured.sample_runs.select_related("batch__lot").get()
    run.cylinder = wide
    record = gather(run)
    assert (record.dispersant_g_l, record.blank_dispersant_g_l) == (pytest.approx(4.425, abs=0.001), 5.0)
