"""What the bench's addresses tell a browser about keeping them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from particles.distribution.advice.expected_reading import SOILS

SCRIPT = Path(__file__).resolve().parents[3] / "batches" / "static" / "batches" / "bench" / "worker.js"

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_bench_and_its_state_are_never_stored_by_the_way_and_name_their_person(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    for address in ("", "state/"):
        answer = as_person(technician).get(f"/batches/{filled_batch.number}/bench/{address}")
        assert "no-store" in answer["Cache-Control"]
        assert answer["Siltbook-Person"] == str(technician.pk)


def test_no_other_page_names_a_person_so_none_is_kept(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    for address in (
        "/batches/",
        f"/batches/{filled_batch.number}/",
        f"/batches/{filled_batch.number}/paper/",
        "/help/",
    ):
        answer = as_person(technician).get(address)
        assert answer.status_code == 200
        assert "Siltbook-Person" not in answer


def test_the_script_behind_the_bench_may_stand_before_benches_only(db: None) -> None:
    answer = Client().get("/bench/worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Service-Worker-Allowed"] == "/"
    assert answer["Cache-Control"] == "no-cache"
    assert "worker-src 'self'" in answer["Content-Security-Policy"]
    assert "connect-src 'self'" in answer["Content-Security-Policy"]
    script = answer.content.decode()
    assert script == SCRIPT.read_text(encoding="utf-8"), "the file as it is, with nothing filled in"


def test_the_page_names_whoever_is_logged_in_and_the_log_in_page_nobody(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    page = as_person(technician).get(f"/batches/{filled_batch.number}/bench/").content.decode()
    assert f'data-person="{technician.pk}"' in page
    assert 'data-served="laboratory"' in page
    assert 'data-person=""' in Client().get("/account/login/").content.decode()


def test_the_state_of_the_bench_takes_few_queries(
    filled_batch: Any, running: Any, technician: Any, as_person: Any, django_assert_max_num_queries: Any
) -> None:
    client = as_person(technician)
    with django_assert_max_num_queries(13):  # the last asks for the timetable in force
        [told] = client.get("/bench/state/").json()["batches"]
    assert told["stem"] == [-5, 60]
    assert told["possible_c"] == [10, 40]
    assert {"stirred_again", "void", "seen"} <= set(told["runs"][0])


def test_the_page_brings_the_soils_a_reading_is_compared_with_once(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    page = as_person(technician).get("/bench/")
    [batch] = page.context["state"]["batches"]
    [soils] = page.context["expected"].values()
    assert len(soils["shares"]) == SOILS * len(batch["schedule_s"]) * 2
    assert "expected" not in batch, "the state is asked for every 15 s"


def test_the_state_says_what_whole_portions_read_to_whole_grams_and_nothing_of_the_blank(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    told = as_person(technician).get(f"/batches/{filled_batch.number}/bench/state/").json()["batches"][0]
    wholes = {run["is_blank"]: run["whole"] for run in told["runs"]}
    assert wholes[True] is None
    assert wholes[False] == round(wholes[False]) > 0, "two portions of one bag look like any others"
    assert len(told["window_s"]) == len(told["schedule_s"])
