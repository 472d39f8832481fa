"""The page of one cylinder."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.bench.rules import time_zero
from batches.computing import rules as computing
from batches.computing.models import result_in_force
from batches.computing.record import gather
from particles.distribution import explain
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def page(client: Any, run: Any) -> str:
    answer = client.get(f"/runs/{run.pk}/")
    assert answer.status_code == 200
    return answer.content.decode()


def test_figures_before_the_end_are_marked_preliminary(
    running: Any, send_entry: Any, a_reading: Any, technician: Any, as_person: Any
) -> None:
    client = as_person(technician)
    assert "Still to be read here: 30 s, 60 s, 90 min, 24 h" in page(client, running)
    send_entry("reading", a_reading(running))
    assert "none near" in page(client, running) or "blank" in page(client, running)
    blank = running.batch.blank
    factories.stored(
        "start", technician, run=blank.pk, started_at=time_zero(running).isoformat(), source="paper"
    )
    send_entry("reading", a_reading(blank, reading="4.5"))
    shown = page(client, running)
    assert "Preliminary" in shown
    assert "66.4" in shown, "a diameter after half a minute"
    assert "95 %:" not in shown


def test_complete_readings_wait_for_the_worker_then_show_figures(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any, work_off: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    run, client = batch.sample_runs.get(), as_person(technician)
    assert "the worker has the run" in page(client, run)
    work_off()
    shown = page(client, run)
    assert "95 %:" in shown
    assert "Preliminary" not in shown
    assert result_in_force(run).distribution.texture.name in shown


def test_a_superseded_reading_stays_in_sight(
    running: Any, send_entry: Any, a_reading: Any, technician: Any, as_person: Any
) -> None:
    send_entry("reading", a_reading(running))
    send_entry("reading", a_reading(running, reading="25.6", reason="Digits transposed."))
    shown = page(as_person(technician), running)
    assert "superseded" in shown
    assert "26.5" in shown
    assert "Digits transposed." in shown


def test_the_blank_has_a_page(running: Any, technician: Any, as_person: Any) -> None:
    assert "Dispersant without soil" in page(as_person(technician), running.batch.blank)


def test_what_came_about_is_explained_only_when_asked(
    submitted_batch: Any, technician: Any, as_person: Any
) -> None:
    run, client = submitted_batch.sample_runs.get(), as_person(technician)
    plain = page(client, run)
    assert 'href="?explain=1#explained"' in plain
    assert "What the doubt consists of" not in plain
    asked = client.get(f"/runs/{run.pk}/?explain=1").content.decode()
    assert "What each step changes" in asked
    steps = ["Blank", "Blank temperature", "Moisture", "Dispersant in the liquid", "Meniscus in the depth"]
    places = [asked.index(f'<th scope="row">{step}</th>') for step in steps]
    assert places == sorted(places)
    moisture = explain(gather(run), submitted_batch.method.edition)
    effect = next(each for each in moisture.effects if each.step == "moisture")
    assert f'<td class="number">{effect.clay_pct:+.2f}</td>' in asked
    assert "From 10000 draws" in asked
    assert "are moved by" in asked
    assert '<th scope="row">Between runs</th>' in asked


def test_sizes_the_curve_does_not_reach_are_not_determined(
    submitted_batch: Any, technician: Any, as_person: Any
) -> None:
    shown = page(as_person(technician), submitted_batch.sample_runs.get())
    assert '<dt>D10</dt><dd><span class="unrecorded">not determined</span>' in shown
    assert '<dt>Cu = D60 / D10</dt><dd><span class="unrecorded">not determined</span>' in shown
    assert "% of whole sample" not in shown


def test_gravel_adds_the_whole_sample_and_sieves_add_the_sand(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any, work_off: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    run = batch.sample_runs.get()
    stack = {"washed_sand_g": "19.80", "sieve_1000_g": "1.00", "sieve_500_g": "3.00", "sieve_250_g": "6.00"}
    stack |= {"sieve_100_g": "7.00", "sieve_53_g": "2.60", "pan_g": "0.15"}
    factories.stored("sieve", technician, portion=run.portion.pk, balance=bench.balance.pk, **stack)
    weighed = {"fine_earth_g": 300, "gravel_g": 100}
    drying = {"drying_temperature_c": 38, "drying_hours": 48}
    run.sample.preparation.correct(reason="Gravel.", by=technician, at=timezone.now(), **weighed, **drying)
    computing.ask(run, by=technician, at=timezone.now())
    work_off()
    shown = page(as_person(technician), run)
    assert "% of whole sample" in shown
    assert "Very coarse sand" in shown
    assert "Subclass" in shown or result_in_force(run).distribution.texture.subclass == ""


def test_a_running_cylinder_says_when_to_read_next(
    filled_batch: Any, technician: Any, as_person: Any
) -> None:
    run, started_at = filled_batch.runs.get(position=1), timezone.now() - timedelta(minutes=20)
    factories.stored("start", technician, run=run.pk, started_at=started_at.isoformat(), source="paper")
    client = as_person(technician)
    assert "When to read next" not in page(client, run)
    factories.read_run(filled_batch.blank, technician, {30: "4.5"}, started_at=started_at)
    early = {"slot_s": 30, "state": "read", "reading": "26.5", "elapsed_s": 30, "temperature_c": "20.0"}
    later = early | {"slot_s": 60, "reading": "22.0", "elapsed_s": 60}
    for typed in (early, later):
        factories.stored("reading", technician, run=run.pk, source="paper", **typed)
    shown = page(client, run)
    assert "A reading at about 24 h would bracket 2 µm, the clay limit." in shown
    assert "50 µm, the sand limit" not in shown, "bracketed already"


def test_no_next_reading_without_a_blank_to_judge_by(
    running: Any, send_entry: Any, a_reading: Any, technician: Any, as_person: Any
) -> None:
    send_entry("reading", a_reading(running))
    assert "When to read next" not in page(as_person(technician), running)


def test_notes_stand_small_behind_the_warnings(stopped_batch: Any, qa_officer: Any, as_person: Any) -> None:
    shown = page(as_person(qa_officer), stopped_batch.sample_runs.get())
    assert shown.index("flag-stop") < shown.index('<ul class="notes">')
    assert "flag flag-note" not in shown
    assert "is assumed, not measured" in shown[shown.index('<ul class="notes">') :]


@pytest.mark.parametrize("person", ["clerk", "client_person", "stranger"])
def test_who_may_not_see_a_run(
    running: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    assert as_person(request.getfixturevalue(person)).get(f"/runs/{running.pk}/").status_code == 403
