"""A technician carries a loam from the balance to the hand-over, and somebody else signs it: by the pages alone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import Batch, Flag
from batches.quality.own_figure import compared_pairs
from tests.conftest import SECRET
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

MASSES = {"portion_g": "40.00", "tin_g": "20.00", "tin_air_dry_g": "30.00", "tin_oven_dry_g": "29.80"}
STACK = {
    "washed_sand_g": "19.80",
    "sieve_1000_g": "1.00",
    "sieve_500_g": "3.00",
    "sieve_250_g": "6.00",
    "sieve_100_g": "7.00",
    "sieve_53_g": "2.60",
    "pan_g": "0.15",
}


def browser(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def sheet(run: Any, values: dict[int, str], started_at: Any) -> dict[str, str]:
    typed = {
        "run": str(run.pk),
        "start_entry_id": str(uuid4()),
        "started_at": f"{started_at:%Y-%m-%d %H:%M:%S}",
    }
    for slot_s, reading in values.items():
        row = {"entry_id": str(uuid4()), "state": "read", "reading": reading, "elapsed_s": str(slot_s)}
        row |= {"temperature_c": "20.0", "reason": ""}
        typed |= {f"slot_{slot_s}_{name}": value for name, value in row.items()}
    return typed


def done(answer: Any) -> None:
    assert answer.status_code == 302, answer.content.decode()


def test_from_the_balance_to_the_signature(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> None:
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    at_the_bench = browser(technician)
    number = _weigh_and_plan(at_the_bench, sample, bench)
    batch = Batch.objects.get(number=number)
    _soak_and_fill(at_the_bench, batch)
    # The clock cannot be waited for: the batch was made as if two days ago.
    Batch.objects.filter(pk=batch.pk).update(dispersed_at=timezone.now() - timedelta(days=2))

    started_at = timezone.now() - timedelta(hours=30)
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        done(at_the_bench.post(f"/batches/{number}/paper/", sheet(run, values, started_at)))
    for portion in (sample.portion, sample.portion.duplicate):
        stack = {"entry_id": str(uuid4()), "portion": portion.code, "balance": bench.balance.pk} | STACK
        done(at_the_bench.post(f"/portions/{portion.code}/sieve/", stack))
    assert work_off() >= 1
    done(at_the_bench.post(f"/batches/{number}/submit/"))
    assert at_the_bench.get(f"/review/{number}/").status_code == 403

    _review_and_sign(browser(qa_officer), batch)
    batch.refresh_from_db()
    sample.refresh_from_db()
    assert (batch.state, sample.state) == ("approved", "approved")
    run = batch.reported_runs.get()
    assert result_in_force(run).distribution.fractions.sand_by == "sieve"
    (pair,) = compared_pairs(batch.method)
    assert pair.lab_number == sample.lab_number
    assert all(first == duplicate for first, duplicate in (pair.sand_pct, pair.clay_pct))
    shown = at_the_bench.get(f"/runs/{run.pk}/").content.decode()
    assert result_in_force(run).distribution.texture.name in shown


def _weigh_and_plan(client: Client, sample: Any, bench: Any) -> str:
    assert sample.lab_number in client.get("/weighing/").content.decode()
    done(
        client.post(
            f"/samples/{sample.lab_number}/portion/", {"density": "assumed", "entry_id": str(uuid4())}
        )
    )
    portion = sample.portions.get()
    _weigh(client, f"/samples/{sample.lab_number}/weigh/", portion, bench)
    plan = {
        "lot": bench.lot.pk,
        "hydrometer": bench.hydrometer.pk,
        "thermometer": bench.thermometer.pk,
        "cylinder_blank": bench.cylinders[0].pk,
        f"take_{portion.pk}": "on",
        f"cylinder_portion_{portion.pk}": bench.cylinders[1].pk,
        "cylinder_more_1": bench.cylinders[2].pk,
    }
    done(client.post("/batches/new/", plan))
    _weigh(client, f"/portions/{portion.duplicate.code}/weigh/", portion.duplicate, bench)
    return Batch.objects.get().number


def _weigh(client: Client, address: str, portion: Any, bench: Any) -> None:
    typed = {"entry_id": str(uuid4()), "portion": portion.code, "balance": bench.balance.pk} | MASSES
    done(client.post(address, typed))


def _soak_and_fill(client: Client, batch: Batch) -> None:
    done(client.post(f"/batches/{batch.number}/soak/"))
    typed = {"mixing_minutes": "5", "to_the_line": "on", "soak_note": "The story has no night in it."}
    typed |= {"entry_id": str(uuid4())}
    done(client.post(f"/batches/{batch.number}/disperse/", typed))


def _review_and_sign(client: Client, batch: Batch) -> None:
    assert batch.number in client.get("/review/").content.decode()
    results = [result_in_force(run) for run in batch.sample_runs]
    assert len(results) == 2, "the duplicate's flags are looked at too"
    flags = Flag.objects.filter(result__in=results).exclude(severity="note")
    assert flags.filter(code="soak_short").exists()
    done(
        client.post(
            f"/review/{batch.number}/quality/", {"look-note": "The short soak stands in the certificate."}
        )
    )
    page = client.get(f"/review/{batch.number}/")
    for row in page.context["causes"]:
        note = {f"{row.place}-note": "Compared with the sheet and accepted.", f"{row.place}-printed": "on"}
        if row.needs_decision:  # both portions of this story are read to the same numbers
            assert row.cause.kind == "readings_copied"
            note |= {f"{row.place}-choice": "figures stand", f"{row.place}-evidence": "compared"}
        done(client.post(f"/review/{batch.number}/causes/{row.cause.key}/", note))
    done(client.post(f"/review/{batch.number}/approve/", {"sign-secret": SECRET}))
