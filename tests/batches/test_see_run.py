"""The page of one cylinder."""

from __future__ import annotations

from typing import Any

import pytest

from tests import factories

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
        "start", technician, run=blank.pk, started_at=running.started_at.isoformat(), source="paper"
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
    assert run.result.distribution.texture.name in shown


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


@pytest.mark.parametrize("person", ["clerk", "client_person", "stranger"])
def test_who_may_not_see_a_run(
    running: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    assert as_person(request.getfixturevalue(person)).get(f"/runs/{running.pk}/").status_code == 403
