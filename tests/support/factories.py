"""Makes records the way the screens do. All names and figures are invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.utils import timezone

from batches.entries.door import Response, receive
from batches.models import Balance, Batch, Cylinder, DispersantLot, HydrometerRecord, Run, Thermometer
from batches.planning.rules import more_portions_due_by, plan_batch, start_soak, unweighed_chosen
from particles.models import (
    Client,
    ClientPerson,
    Job,
    Laboratory,
    MethodEditionRecord,
    Portion,
    PretreatmentDecision,
    Sample,
)

FOUR_READINGS = "hydrometer-four-2026-4"


def client(name: str = "Example Estate (invented)") -> Client:
    return Client.objects.create(name=name, address="1 Example Lane", contact="Office")


def person_of(the_client: Client, user: Any, granted_by: Any) -> Any:
    ClientPerson.objects.create(
        client=the_client,
        user=user,
        granted_by=granted_by,
        granted_at=timezone.now(),
        consent="letter, example",
    )
    return user


@dataclass
class Bench:
    hydrometer: HydrometerRecord
    thermometer: Thermometer
    balance: Balance
    lot: DispersantLot
    cylinders: list[Cylinder]


def bench(today: date | None = None) -> Bench:
    today = today or timezone.now().date()
    MethodEditionRecord.enter_shipped(at=timezone.now())
    good: dict[str, Any] = {"checked_on": today - timedelta(days=60), "due_on": today + timedelta(days=300)}
    return Bench(
        hydrometer=HydrometerRecord.objects.create(
            serial="H-1",
            scale="152H",
            depth_intercept_cm=Decimal("16.295"),
            depth_slope_cm_per_unit=Decimal("0.1641"),
            meniscus_correction=Decimal("1"),
            scale_minimum=Decimal("-5"),
            scale_maximum=Decimal("60"),
            **good,
        ),
        thermometer=Thermometer.objects.create(serial="T-1", **good),
        balance=Balance.objects.create(serial="B-1", resolution_g=Decimal("0.01"), **good),
        lot=DispersantLot.objects.create(
            code="L-1",
            made_on=today - timedelta(days=20),
            expires_on=today + timedelta(days=20),
            stock_g_l=50,
            added_ml=100,
        ),
        cylinders=[
            Cylinder.objects.create(serial=f"C{n:02d}", inner_area_cm2=Decimal("27.8"), **good)
            for n in range(1, 7)
        ],
    )


def job(the_client: Client, by: Any, *, at: datetime | None = None, samples: int = 1, **asked: Any) -> Job:
    asked.setdefault("method", MethodEditionRecord.objects.get(code=FOUR_READINGS))
    lines = [
        {"client_label": f"Field {n}", "depth_text": "0-20 cm", "origin_country": "Examplia"}
        for n in range(1, samples + 1)
    ]
    return Job.log(client=the_client, lines=lines, by=by, at=at or timezone.now(), **asked)


def prepared(sample: Sample, by: Any, *, at: datetime | None = None, **decision: Any) -> Sample:
    """Accepted, dried, sieved, and its pretreatment decided."""
    at = at or timezone.now()
    sample.accept(by=by, at=at)
    sample.prepare(
        by=by,
        at=at,
        drying_temperature_c=Decimal("38"),
        drying_hours=Decimal("48"),
        fine_earth_g=Decimal("412.5"),
        gravel_g=Decimal("0"),
    )
    removed = {"remove_organic_matter": False, "remove_carbonates": False, "remove_soluble_salts": False}
    PretreatmentDecision.objects.create(
        sample=sample, **(removed | {"reason": "Low organic matter, no fizz."} | decision), by=by, at=at
    )
    return sample


def bag_of(sample: Sample, fine_earth_g: int, by: Any, *, at: datetime) -> None:
    """The bag weighed again: what it holds takes the place of what was recorded."""
    sample.preparation.correct(
        reason="Weighed again.",
        by=by,
        at=at,
        drying_temperature_c=Decimal(38),
        drying_hours=Decimal(48),
        fine_earth_g=Decimal(fine_earth_g),
        gravel_g=Decimal(0),
    )


def send(kind: str, by: Any, *, at: datetime | None = None, **content: Any) -> Response:
    """One entry as a tablet sends it: text fields under a fresh name. Needs a transactional test."""
    typed = {key: str(value) for key, value in content.items()}
    return receive(uuid4(), kind, typed, by=by, at=at or timezone.now(), device="test tablet")


def stored(kind: str, by: Any, *, at: datetime | None = None, **content: Any) -> None:
    answer = send(kind, by, at=at, **content)
    assert answer.stored, answer.sentence


def portion(
    sample: Sample,
    by: Any,
    the_bench: Bench,
    *,
    at: datetime | None = None,
    reason: str = "",
    **masses_g: str,
) -> Portion:
    """Weighed with its moisture tin unless other masses are given; a further one says why."""
    taken = Portion.take(sample, by=by, at=at or timezone.now(), reason=reason)
    stored("weighing", by, at=at, portion=taken.pk, balance=the_bench.balance.pk, **(masses_g or MASSES_G))
    return taken


MASSES_G = {"portion_g": "40.00", "tin_g": "20.00", "tin_air_dry_g": "30.00", "tin_oven_dry_g": "29.80"}


def _made_with(portions: list[Portion], the_bench: Bench) -> dict[str, Any]:
    return {
        "portions": portions,
        "method": portions[0].sample.job.method,
        "lot": the_bench.lot,
        "hydrometer": the_bench.hydrometer,
        "thermometer": the_bench.thermometer,
    }


def _soaked_and_filled(made: Batch, by: Any, at: datetime) -> None:
    start_soak(made, by=by, at=at)
    made.disperse(by=by, at=at + timedelta(hours=16), mixing_minutes=5)


def batch(portions: list[Portion], by: Any, the_bench: Bench, *, at: datetime, filled: bool = True) -> Batch:
    """Planned; soaked overnight and filled too unless told otherwise. `at` is when it was planned."""
    cylinders = the_bench.cylinders[: len(portions) + 1]
    made = Batch.plan(cylinders=cylinders, by=by, at=at, **_made_with(portions, the_bench))
    if filled:
        _soaked_and_filled(made, by, at)
    return made


def batch_with_duplicates(
    portions: list[Portion], by: Any, the_bench: Bench, *, at: datetime, filled: bool = True
) -> Batch:
    """With the duplicates of the laboratory's rule; weighed, soaked and filled too unless told otherwise."""
    made_with = _made_with(portions, the_bench)
    needed = len(portions) + 1 + more_portions_due_by(made_with["method"])(len(portions))
    made = plan_batch(cylinders=the_bench.cylinders[:needed], by=by, at=at, **made_with)
    if filled:
        for duplicate in unweighed_chosen(made):
            stored("weighing", by, portion=duplicate.pk, balance=the_bench.balance.pk, **MASSES_G)
        _soaked_and_filled(made, by, at)
    return made


LOAM_G_L = {30: "26.5", 60: "23.5", 5400: "13.5", 86400: "10.0"}
BLANK_G_L = {30: "4.5", 60: "4.5", 5400: "4.5", 86400: "4.5"}


def read_run(
    run: Run, by: Any, values_g_l: dict[int, str], *, started_at: datetime, temperature_c: str = "20.0"
) -> None:
    """Start a cylinder in the past and read every slot, as transcribed from paper."""
    now = timezone.now()
    stored("start", by, at=now, run=run.pk, started_at=started_at.isoformat(), source="paper")
    for slot_s, value in values_g_l.items():
        stored(
            "reading",
            by,
            at=now,
            run=run.pk,
            slot_s=slot_s,
            state="read",
            reading=value,
            elapsed_s=slot_s,
            temperature_c=temperature_c,
            source="paper",
        )


def off_by(g_l: float) -> dict[int, str]:
    """The loam read so much higher at every time. [g/L]"""
    return {slot_s: f"{float(value) + g_l:.1f}" for slot_s, value in LOAM_G_L.items()}


def measured_pairs(
    the_client: Client,
    clerk: Any,
    technician: Any,
    the_bench: Bench,
    *,
    off_g_l: Sequence[float],
    planned_ago: timedelta = timedelta(days=3),
    **asked: Any,
) -> Batch:
    """
    A batch of loams, each with a duplicate read so much higher, read to the end and waiting for the worker.

    The laboratory's rule is one duplicate for every sample.
    """
    Laboratory.objects.update_or_create(
        pk=1, defaults={"name": "Example", "address": "1 Lane", "contact": "-", "samples_per_duplicate": 1}
    )
    more_cylinders(the_bench, 2 * len(off_g_l) + 1)
    now = timezone.now()
    received_at = now - planned_ago - timedelta(days=2)
    the_job = job(the_client, clerk, at=received_at, samples=len(off_g_l), **asked)
    portions = [
        portion(prepared(s, technician, at=received_at), technician, the_bench) for s in the_job.samples.all()
    ]
    made = batch_with_duplicates(portions, technician, the_bench, at=now - planned_ago)
    started_at = now - planned_ago + timedelta(days=1)
    for run in made.runs.order_by("position"):
        off = off_g_l[run.sample.line - 1] if run.is_duplicate else 0.0
        read_run(run, technician, BLANK_G_L if run.is_blank else off_by(off), started_at=started_at)
    made.refresh_from_db()
    return made


def more_cylinders(the_bench: Bench, count: int) -> None:
    """So that the bench holds at least so many."""
    first = the_bench.cylinders[0]
    for n in range(len(the_bench.cylinders) + 1, count + 1):
        the_bench.cylinders.append(
            Cylinder.objects.create(
                serial=f"C{n:02d}",
                inner_area_cm2=first.inner_area_cm2,
                checked_on=first.checked_on,
                due_on=first.due_on,
            )
        )


def measured_batch(
    the_client: Client, clerk: Any, technician: Any, the_bench: Bench, *, samples: int = 1
) -> Batch:
    """A batch of loams with all readings, from a job received five days ago, waiting for the worker."""
    now = timezone.now()
    received_at = now - timedelta(days=5)
    the_job = job(the_client, clerk, at=received_at, samples=samples)
    portions = [
        portion(prepared(s, technician, at=received_at), technician, the_bench) for s in the_job.samples.all()
    ]
    return measured(portions, technician, the_bench)


def measured(
    portions: list[Portion], technician: Any, the_bench: Bench, *, values_g_l: dict[int, str] = LOAM_G_L
) -> Batch:
    """A batch of these portions with all readings, waiting for the worker."""
    now = timezone.now()
    made = batch(portions, technician, the_bench, at=now - timedelta(days=3))
    started_at = now - timedelta(days=2)
    for run in made.runs.order_by("position"):
        read_run(run, technician, BLANK_G_L if run.is_blank else values_g_l, started_at=started_at)
    made.refresh_from_db()
    return made
