"""What is overdue or withdrawn starts nothing; a reading of soil that settles is kept and told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import BlankReading, Entry, Flag, Reading, Replunge, Result, RunStart
from batches.planning.rules import start_soak
from batches.quality.judged_batch import Severity
from batches.quality.verdict import verdict_of
from batches.review import rules as approval
from batches.voiding.models import RunVoid
from particles.records.refusals import NotPossible
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def overdue(instrument: Any) -> None:
    instrument.due_on = timezone.localdate() - timedelta(days=1)
    instrument.save(update_fields=["due_on"])


def withdrawn(instrument: Any) -> None:
    instrument.withdraw(on=timezone.localdate(), reason="Cracked at the bulb.")


INSTRUMENTS: dict[str, Callable[[Any], Any]] = {
    "hydrometer H-1": lambda run: run.batch.hydrometer,
    "thermometer T-1": lambda run: run.batch.thermometer,
    "cylinder C02": lambda run: run.cylinder,
}


@pytest.fixture
def start(send_entry: Any) -> Any:
    def sent(run: Any, **ago: float) -> Any:
        started_at = (timezone.now() - timedelta(**ago)).isoformat()
        return send_entry("start", {"run": str(run.pk), "started_at": started_at, "source": "tablet"})

    return sent


@pytest.mark.parametrize("what", list(INSTRUMENTS))
def test_bench_fault_63_an_overdue_instrument_starts_nothing(
    filled_batch: Any, start: Any, what: str
) -> None:
    run = filled_batch.runs.get(position=1)
    overdue(INSTRUMENTS[what](run))
    answer = start(run)
    assert answer.status_code == 409
    due = f"{timezone.localdate() - timedelta(days=1):%-d %b %Y}"
    assert f"{what[0].upper()}{what[1:]} is overdue, its check was due on {due}" in answer.json()["sentence"]
    assert f"Cylinder C02 starts on {timezone.localdate():%-d %b %Y}" in answer.json()["sentence"]
    assert "Have it checked and the check recorded under Equipment" in answer.json()["sentence"]
    assert not RunStart.objects.exists()
    assert Entry.objects.get(kind="start").verdict.outcome == "refused", "what was tapped stays on record"


@pytest.mark.parametrize("what", list(INSTRUMENTS))
def test_bench_fault_63_a_withdrawn_instrument_starts_nothing_and_the_way_on_is_said(
    filled_batch: Any, start: Any, send_entry: Any, what: str
) -> None:
    run = filled_batch.runs.get(position=1)
    withdrawn(INSTRUMENTS[what](run))
    said = start(run).json()["sentence"]
    assert f"was withdrawn on {timezone.localdate():%-d %b %Y} (Cracked at the bulb)" in said
    assert "Make the run void" in said
    assert not RunStart.objects.exists()
    void = {
        "run": str(run.pk),
        "why": RunVoid.Why.BROKEN.value,
        "note": "",
        "voided_at": timezone.now().isoformat(),
    }
    assert send_entry("void", void).status_code == 201, "the way that the refusal names is open"


def test_bench_fault_63_a_check_opens_the_start_again(filled_batch: Any, start: Any, bench: Any) -> None:
    run, today = filled_batch.runs.get(position=1), timezone.localdate()
    overdue(run.batch.hydrometer)
    assert start(run).status_code == 409
    bench.hydrometer.refresh_from_db()
    bench.hydrometer.checked(on=today, due_on=today + timedelta(days=90), certificate="", today=today)
    assert start(run).status_code == 201


def test_a_start_on_the_last_good_day_stands_also_when_it_is_sent_later(
    filled_batch: Any, start: Any
) -> None:
    run = filled_batch.runs.get(position=1)
    overdue(run.batch.hydrometer)
    assert start(run, days=1).status_code == 201


def test_bench_fault_63_an_instrument_that_fails_while_soil_settles_loses_no_reading(
    running: Any, send_entry: Any, a_reading: Any
) -> None:
    thermometer = running.batch.thermometer
    good = send_entry("reading", a_reading(running))
    assert good.json()["sentence"] == "Kept by the laboratory."
    overdue(thermometer)
    late = a_reading(running, slot_s=86400, reading="10.0", elapsed_s=f"{47.5 * 3600:.0f}")
    said = send_entry("reading", late)
    assert said.status_code == 201
    assert "the reviewer is told: thermometer T-1 is overdue" in said.json()["sentence"]
    kept = {each.slot_s: each.unfit for each in Reading.objects.all()}
    assert kept[30] is None, "it was good when this one was taken"
    assert str(kept[86400]).startswith("thermometer T-1 is overdue")


def test_what_can_be_done_again_is_refused_once_an_instrument_fails(
    running: Any, send_entry: Any, as_person: Any, technician: Any
) -> None:
    blank, now = running.batch.blank, timezone.now()
    before = (now - timedelta(days=2)).isoformat()
    factories.stored("start", technician, run=blank.pk, started_at=before, source="paper")
    withdrawn(running.batch.hydrometer)
    more = {"run": str(blank.pk), "reading": "4.5", "temperature_c": "20.0", "taken_at": now.isoformat(),
            "source": "tablet"}  # fmt: skip
    again = {"run": str(running.pk), "started_at": now.isoformat(), "voids": "0", "source": "tablet",
             "reason": "Bumped."}  # fmt: skip
    for kind, content in (("blank reading", more), ("replunge", again)):
        answer = send_entry(kind, content)
        assert answer.status_code == 409
        assert "Hydrometer H-1 was withdrawn on" in answer.json()["sentence"]
    assert not BlankReading.objects.exists()
    assert not Replunge.objects.exists()


@pytest.fixture
def read_with_overdue(the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any) -> Any:
    """A batch read to the end; the hydrometer's check ran out between START and the reading of the next day."""
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5))
    sample = factories.prepared(job.samples.get(), technician, at=now - timedelta(days=5))
    portion = factories.portion(sample, technician, bench)
    made = factories.batch([portion], technician, bench, at=now - timedelta(days=3))
    bench.hydrometer.due_on = timezone.localdate(now - timedelta(days=2))
    bench.hydrometer.save(update_fields=["due_on"])
    for run in made.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=now - timedelta(days=2))
    work_off()
    made.refresh_from_db()
    return made


def test_bench_fault_63_review_and_certificate_are_told_of_the_readings_kept(
    read_with_overdue: Any, technician: Any
) -> None:
    flags = Flag.objects.filter(code="instrument_unfit").order_by("pk")
    assert [each.number for each in flags] == [1, 1]
    assert {each.severity for each in flags} == {"warn"}
    assert "Readings of this run taken although hydrometer H-1 is overdue" in flags[0].sentence
    assert "the first at 24 h" in flags[0].sentence
    assert "Readings of the blank" in flags[1].sentence
    assert Result.objects.get().certifiable, "a word to the reader, and no stop"
    [line] = [each for each in verdict_of(read_with_overdue).lines if each.about == "instruments"]
    assert line.severity is Severity.WARN
    assert "2 readings kept although hydrometer H-1 is overdue" in line.sentence
    approval.submit(read_with_overdue, by=technician, at=timezone.now())


def test_a_batch_read_with_good_instruments_says_nothing_of_them(measured: Any) -> None:
    assert not Flag.objects.filter(code="instrument_unfit").exists()
    [line] = [each for each in verdict_of(measured).lines if each.about == "instruments"]
    assert line.passed


@pytest.mark.parametrize("place", ["", "bench/", "paper/"])
def test_the_pages_say_it_before_anything_is_started(
    filled_batch: Any, technician: Any, as_person: Any, place: str
) -> None:
    address = f"/batches/{filled_batch.number}/{place}"
    assert "Not in service" not in as_person(technician).get(address).content.decode()
    withdrawn(filled_batch.runs.get(position=2).cylinder)
    shown = as_person(technician).get(address).content.decode()
    assert "Cylinder C03 was withdrawn on" in shown
    assert "Nothing is started with it." in shown


def test_bench_fault_63_a_lot_past_its_day_is_refused_at_the_soak_with_its_days(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    job = factories.job(the_client, clerk)
    portion = factories.portion(factories.prepared(job.samples.get(), technician), technician, bench)
    made = factories.batch([portion], technician, bench, at=timezone.now(), filled=False)
    later = timezone.now() + timedelta(days=40)
    with pytest.raises(NotPossible, match=r"dispersant lot L-1 is good from .* Use another lot"):
        start_soak(made, by=technician, at=later)
    made.refresh_from_db()
    assert made.state == "planned"
