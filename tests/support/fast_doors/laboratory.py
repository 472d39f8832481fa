"""An invented laboratory in which many tablets have much to read: started batches, technicians, log-ins."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.contrib.auth import get_user_model
from django.db import connection, transaction
from django.middleware.csrf import get_token
from django.test import Client, RequestFactory
from django.utils import timezone

from batches.entries.models import Entry, content_sha256
from batches.models import Batch, Cylinder, DispersantLot, HydrometerRecord, Run, RunStart, Thermometer
from batches.planning.models import BatchState
from particles.models import MethodEditionRecord, Portion, PretreatmentDecision, Sample
from tests.support import factories
from tests.support.fast_doors.server_urls import BARE_TABLE

METHOD = "hydrometer-nine-2026-4"
CYLINDERS = 24


@dataclass(frozen=True)
class Tablet:
    """One tablet: the headers of its log-in, and what it sends, each with its name."""

    headers: dict[str, str]
    entries: list[tuple[str, str]]


def build(tablets: int, tablets_a_batch: int) -> list[Tablet]:
    """Batches started two days ago with nothing read, and a logged-in technician for each tablet."""
    made: list[Tablet] = []
    before = Batch.objects.count()
    if not get_user_model().objects.filter(username="petra").exists():
        _first_of_each()
    planner, sample = get_user_model().objects.get(username="petra"), Sample.objects.order_by("pk")[0]
    for number, first in enumerate(range(0, tablets, tablets_a_batch), start=before):
        with transaction.atomic():
            batch = _started(sample, planner, number=number)
        people = min(tablets_a_batch, tablets - first)
        made += [
            Tablet(
                _log_in(_person(f"tablet-{number}-{part}", "technician")), list(_entries(batch, part, people))
            )
            for part in range(people)
        ]
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
    return made


def _person(name: str, role: str) -> Any:
    return get_user_model().objects.create(
        username=name, first_name=name.capitalize(), last_name="Example", roles=[role]
    )


@transaction.atomic
def _first_of_each() -> None:
    """Instruments, people, and one sample through the preparation room."""
    clerk, planner = _person("clara", "receiving clerk"), _person("petra", "technician")
    factories.bench()
    factories.prepared(factories.job(factories.client(), clerk).samples.get(), planner)
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TABLE {BARE_TABLE} (id bigserial PRIMARY KEY, content text NOT NULL)")


def _started(sample: Sample, by: Any, *, number: int) -> Batch:
    """
    A batch whose cylinders were all started two days ago, put into the database as rows.

    By the screens it would take minutes; what a reading asks for is there, weighings and moves are not.
    """
    now = timezone.now()
    started_at, first = now - timedelta(days=2), Cylinder.objects.order_by("pk")[0]
    decision = PretreatmentDecision.objects.get(sample=sample)
    places = range(CYLINDERS)
    samples = [
        _copied(
            sample,
            lab_number=f"F{number:03d}-{n:02d}",
            client_label=f"Bag {number}-{n}",
            line=CYLINDERS * number + n + 1,
        )
        for n in places[1:]
    ]
    portions = [
        Portion(
            sample=each, attempt=1, pretreatment=decision, drawn_code=f"F{number:03d}{n:02d}", by=by, at=now
        )
        for n, each in enumerate(Sample.objects.bulk_create(samples), start=1)
    ]
    Portion.objects.bulk_create(portions)
    cylinders = Cylinder.objects.bulk_create(
        [_copied(first, serial=f"F{number:02d}-{n:02d}") for n in places]
    )
    batch = Batch.objects.create(
        number=f"F{number:03d}",
        method=MethodEditionRecord.objects.get(code=METHOD),
        lot=DispersantLot.objects.get(),
        hydrometer=HydrometerRecord.objects.get(),
        thermometer=Thermometer.objects.get(),
        planned_by=by,
        planned_at=now - timedelta(days=3),
        state=BatchState.RUNNING,
        soak_started_at=now - timedelta(days=3),
        dispersed_at=started_at,
        mixing_minutes=5,
    )
    runs = Run.objects.bulk_create(
        Run(
            batch=batch,
            cylinder=cylinders[n],
            position=n,
            portion=portions[n - 1] if n else None,
            is_blank=not n,
        )
        for n in places
    )
    entries = Entry.objects.bulk_create(
        Entry(
            entry_id=uuid4(),
            kind="start",
            content={"run": str(run.pk)},
            content_sha256=content_sha256("start", {"run": str(run.pk)}),
            by=by,
            received_at=started_at,
        )
        for run in runs
    )
    RunStart.objects.bulk_create(
        RunStart(run=run, started_at=started_at, source="paper", entry=entry, by=by, at=started_at)
        for run, entry in zip(runs, entries, strict=True)
    )
    return batch


def _copied(row: Any, **other: Any) -> Any:
    """The same row once more, to be inserted with other values in some columns."""
    values = {each.attname: getattr(row, each.attname) for each in row._meta.concrete_fields}
    return type(row)(**{**values, "id": None, **other})


def _entries(batch: Batch, part: int, parts: int) -> Iterator[tuple[str, str]]:
    """A tablet's share of the readings, slot by slot as at a bench; the last slot stays open, so no run is complete."""
    runs = [run for run in batch.runs.order_by("position") if run.position % parts == part]
    for slot_s in list(batch.method.edition.schedule_s)[:-1]:
        for run in runs:
            content = {
                "run": str(run.pk),
                "slot_s": str(int(slot_s)),
                "state": "read",
                "reading": "4.5" if run.is_blank else "26.5",
                "elapsed_s": f"{slot_s + 0.4:.1f}",
                "temperature_c": "20.0",
                "source": "tablet",
                "reason": "",
            }
            name = str(uuid4())
            yield name, json.dumps({"entry_id": name, "kind": "reading", "content": content})


def _log_in(person: Any) -> dict[str, str]:
    """What a logged-in tablet sends with each entry: its session, and what shows that a page of ours sends it."""
    browser, request = Client(), RequestFactory().get("/")
    browser.force_login(person)
    token = get_token(request)
    secret = request.META["CSRF_COOKIE"]
    return {
        "Cookie": f"sessionid={browser.cookies['sessionid'].value}; csrftoken={secret}",
        "X-CSRFToken": token,
        "User-Agent": "test tablet",
    }
