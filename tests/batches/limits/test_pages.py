"""The pages of the charts: what waits stands first, what was typed survives a refusal, who may do what."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import LimitsVersion, RunDecision
from batches.quality.pairs import pairs_among
from batches.review import rules as approval
from particles.models import Client, ReferenceSoil
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)
ROOM = "/quality/charts/temperature.0./"
TYPED = {
    "centre": "20.5",
    "sd": "0.8",
    "document": "Log of the room, 2025 (invented)",
    "reason": "The first limits of the room.",
    "seen": "",
}


@pytest.mark.parametrize("person", ["clerk", "technician", "custodian", "client_person"])
def test_who_may_not_see_them(
    bench: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    for address in ("/quality/", "/quality/soils/", ROOM, "/charts/limits/temperature.0..json"):
        assert client.get(address).status_code == 403, address
    assert client.post(f"{ROOM}limits/", TYPED).status_code == 403


def test_a_person_enters_what_is_proposed_or_written_down(
    bench: Any, qa_officer: Any, as_person: Any
) -> None:
    client = as_person(qa_officer)
    assert "no limits yet" in client.get("/quality/").content.decode()
    empty = client.get("/charts/limits/temperature.0..json")
    assert (empty.status_code, "No batch has given a point" in empty.json()["happened"]) == (404, True)
    refused = client.post(f"{ROOM}limits/", TYPED | {"reason": "just so", "sd": "0,8"})
    assert refused.status_code == 422
    assert "just so" in refused.content.decode(), "what was typed is still there"
    refused = client.post(f"{ROOM}limits/", TYPED | {"sd": "7"})
    assert refused.status_code == 409
    assert "more than scatter can be" in refused.content.decode()
    assert client.post(f"{ROOM}limits/", TYPED).status_code == 302
    version = LimitsVersion.objects.get()
    shown = client.get(ROOM).content.decode()
    assert "entered by Quinn Example and in force since" in shown
    assert "18.10 to 22.90" in client.get("/quality/").content.decode()
    stale = client.post(f"{ROOM}limits/", TYPED)
    assert stale.status_code == 409
    assert "entered limits meanwhile" in stale.content.decode()
    newer = client.post(f"{ROOM}limits/", TYPED | {"seen": version.pk, "centre": "23"})
    assert newer.status_code == 302
    again = {
        "again-reason": "The new room was given up in summer.",
        "again-seen": LimitsVersion.objects.last().pk,
    }
    assert client.post(f"{ROOM}limits/{version.pk}/again/", again).status_code == 302
    assert "takes up the version of" in client.get(ROOM).content.decode()
    assert LimitsVersion.objects.count() == 3


@pytest.mark.parametrize(
    "address", ["rain.0.", "blank-level.999999.", "reference-sand.999999.no-such", "duplicates-clay.0.no"]
)
def test_what_is_no_chart_is_not_found(bench: Any, qa_officer: Any, as_person: Any, address: str) -> None:
    assert as_person(qa_officer).get(f"/quality/charts/{address}/").status_code == 404


def test_a_reference_soil_is_entered_and_ended(
    bench: Any, clerk: Any, technician: Any, qa_officer: Any, manager: Any, as_person: Any
) -> None:
    own = Client.objects.create(name="The laboratory itself (invented)", address="-")
    bag = factories.prepared(factories.job(own, clerk).samples.get(), technician)
    client = as_person(qa_officer)
    typed = {"name": "Sandbank", "kind": "sandy", "sample": bag.lab_number, "container": "Bin 3"}
    refused = client.post("/quality/soils/", typed | {"sample": "26-99999"})
    assert (refused.status_code, "There is no sample 26-99999." in refused.content.decode()) == (422, True)
    assert client.post("/quality/soils/", typed).status_code == 302
    soil = ReferenceSoil.objects.get()
    assert "Sandbank, sand" in client.get("/quality/").content.decode()
    assert client.post(f"/quality/soils/{soil.pk}/used-up/", {f"end_{soil.pk}-reason": ""}).status_code == 422
    ended = client.post(f"/quality/soils/{soil.pk}/used-up/", {f"end_{soil.pk}-reason": "The bin is empty."})
    assert ended.status_code == 302
    assert "The bin is empty." in client.get("/quality/soils/").content.decode()


def _signed(batch: Any, technician: Any, qa_officer: Any) -> None:
    """Handed over and signed; a pair far apart gets a note that names no cause, and its first portion a repeat."""
    said = {"by": qa_officer, "at": timezone.now()}
    approval.submit(batch, by=technician, at=timezone.now())
    for pair in pairs_among([(run, result_in_force(run)) for run in batch.sample_runs], batch):
        if pair.severity and pair.first_result is not None:
            note = "Looked at sheet and tray."
            approval.review_pair(pair.duplicate, note=note, cause_found=False, **said)
            approval.decide(pair.first_result, "repeat", note="Far apart.", **said)
    settle(batch, qa_officer)
    held_back = RunDecision.objects.filter(result__run__batch=batch).exists()
    why_rest = "The other pair agrees, blank and instruments passed." if held_back else ""
    approval.approve(batch, secret=SECRET, why_rest=why_rest, **said)


def test_a_pair_far_apart_stands_first_until_it_is_answered(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any, as_person: Any
) -> None:
    client, counts = as_person(qa_officer), []
    for off_g_l in ([0.5], [0.0, 4.0]):
        batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=off_g_l)
        work_off()
        _signed(batch, technician, qa_officer)
        with CaptureQueriesContext(connection) as asked:
            shown = client.get("/quality/").content.decode()
        counts.append(len(asked))
    assert counts[0] == counts[1], "more points ask no more questions"
    rows = shown.split("<tbody>")[1].split("</tr>")
    assert "1 point to answer" in rows[0]
    assert "Duplicates, " in rows[0]
    [key] = {part.split('"')[0] for part in rows[0].split("/quality/charts/")[1:]}
    page = client.get(f"/quality/charts/{key}")
    assert "a pair beyond the action limit" in page.content.decode()
    run = (
        batch.sample_runs.filter(portion__duplicate_of__isnull=False)
        .order_by("-portion__sample__line")
        .first()
    )
    answer = f"/quality/charts/{key}points/{run.pk}/answer/"
    refused = client.post(answer, {f"run_{run.pk}-counts": "no", f"run_{run.pk}-reason": "mixed up"})
    assert (refused.status_code, "mixed up</textarea>" in refused.content.decode()) == (409, True)
    words = "The two bags were mixed up at the shelf."
    kept = client.post(answer, {f"run_{run.pk}-counts": "no", f"run_{run.pk}-reason": words})
    assert kept.status_code == 302
    shown = client.get(f"/quality/charts/{key}").content.decode()
    assert words in shown
    assert "To answer" not in shown
    spec = client.get(f"/charts/limits/{key.rstrip('/')}.json").json()
    drawn = spec["layer"][-1]["data"]["values"]
    assert [(row["weight"], row["left_out"]) for row in drawn if row["weight"]] == [("stop", True)]
