"""The page of all duplicates and its charts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.models import Batch
from batches.quality.own_figure import own_spread
from tests.support import factories
from tests.support.approved import approve

pytestmark = pytest.mark.django_db(transaction=True)
OFF_G_L = [0.5, -0.5, 0.5, 0.0, 0.5, -0.5, 1.0, 0.5]


@pytest.fixture
def approved(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> Callable[[list[float]], Batch]:
    def made(off_g_l: list[float]) -> Batch:
        batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=off_g_l)
        work_off()
        approve(batch, technician, qa_officer)
        return batch

    return made


def test_nothing_run_yet_says_what_comes(qa_officer: Any, bench: Any, as_person: Any) -> None:
    assert "No duplicate has been run yet." in as_person(qa_officer).get("/duplicates/").content.decode()


def test_too_few_pairs_leave_the_methods_figure(approved: Any, qa_officer: Any, as_person: Any) -> None:
    batch = approved([0.5])
    shown = as_person(qa_officer).get("/duplicates/").content.decode()
    assert "1 pair of the last year count" in shown
    assert "Standard deviation, warning limit and action limit: from 8 pairs on." in shown
    assert '<th scope="col" class="number">Action limit' not in shown
    assert batch.number in shown
    answer = as_person(qa_officer).get(f"/charts/duplicates/{batch.method.pk}/clay.json")
    assert answer.status_code == 404
    assert "1 pair(s)" in answer.json()["happened"]


def test_seven_pairs_are_drawn_without_limits(approved: Any, qa_officer: Any, as_person: Any) -> None:
    batch = approved(OFF_G_L[:7])
    client = as_person(qa_officer)
    shown = client.get("/duplicates/").content.decode()
    assert "from 8 pairs on" in shown
    assert f"/charts/duplicates/{batch.method.pk}/sand.json" in shown
    (pairs,) = client.get(f"/charts/duplicates/{batch.method.pk}/sand.json").json()["layer"]
    assert len(pairs["data"]["values"]) == 7


def test_eight_pairs_show_the_own_figure_its_doubt_and_the_limits(
    approved: Any, manager: Any, as_person: Any
) -> None:
    batch = approved(OFF_G_L)
    own = own_spread(batch.method, at=timezone.now())
    assert own is not None
    client = as_person(manager)
    shown = client.get("/duplicates/").content.decode()
    assert f"{own.sd_pct:.2f}<span" in shown
    assert f"± {own.sand_pct / 4:.2f}" in shown, "s / √16"
    spec = client.get(f"/charts/duplicates/{batch.method.pk}/sand.json").json()
    limits, pairs = (layer["data"]["values"] for layer in spec["layer"])
    differences = [row["difference_pct"] for row in pairs]
    assert len(differences) == 8
    mean = sum(differences) / 8
    assert [row["at_pct"] for row in limits] == pytest.approx([mean, 2.8 / 1.128 * mean, 3.267 * mean])
    assert client.get(f"/charts/duplicates/{batch.method.pk}/silt.json").status_code == 404


def test_a_pair_that_does_not_count_is_listed_with_why(
    approved: Any, the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, as_person: Any
) -> None:
    batch = approved([0.5])
    run = batch.sample_runs.get(portion__duplicate_of__isnull=False)
    run.requests.create(inputs_digest="0" * 64, turn=2, asked_by=technician, asked_at=timezone.now())
    shown = as_person(qa_officer).get("/duplicates/").content.decode()
    assert "a run of it has a stop, or no result in force" in shown


def test_more_pairs_ask_no_more_questions(approved: Any, qa_officer: Any, as_person: Any) -> None:
    client, counts = as_person(qa_officer), []
    for off_g_l in ([0.5], [0.5, 1.0, 0.0]):
        approved(off_g_l)
        with CaptureQueriesContext(connection) as asked:
            client.get("/duplicates/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("person", ["clerk", "technician", "custodian", "client_person"])
def test_who_may_not_see_them(
    bench: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.get("/duplicates/").status_code == 403
    assert client.get("/charts/duplicates/1/clay.json").status_code == 403
