"""Two values for one reading: both kept, side by side, and somebody chooses with a reason."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib.auth import get_user_model

from batches.bench.rules import current_readings
from batches.models import Reading, Run
from tests.batches.bench.test_type_from_paper import sheet
from tests.support import factories
from tests.support.on_tablet import in_laboratory, soon_kept, started_ago, told, type_reading

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def tilda(db: None) -> Any:
    return get_user_model().objects.create(username="tilda", first_name="Tilda", roles=["technician"])


@pytest.fixture
def two(running: Run, send_entry: Any, a_reading: Any, tilda: Any) -> Run:
    """Another person's value for the 30 s reading came 14 s later than the first."""
    assert send_entry("reading", a_reading(running)).status_code == 201
    later = a_reading(running, reading="22.0", elapsed_s="44.6", temperature_c="20.3")
    answer = send_entry("reading", later, by=tilda)
    assert answer.status_code == 409
    assert "26.5, by Tomas Example" in answer.json()["sentence"]
    assert "chosen on “From paper, corrections”, with the reason" in answer.json()["sentence"]
    return running


def paper(run: Run) -> str:
    return f"/batches/{run.batch.number}/paper/?run={run.pk}"


def test_bench_fault_60_both_values_stand_side_by_side_and_the_first_counts(
    two: Run, technician: Any, tilda: Any, as_person: Any
) -> None:
    shown = as_person(technician).get(paper(two)).content.decode()
    first, other = shown.index("26.5"), shown.index("22.0")
    assert first < other < shown.index('id="slot-30"')
    assert "Two values for one reading" in shown
    assert f"read, by {tilda}" in shown
    assert "44.6" in shown
    batch_page = as_person(technician).get(f"/batches/{two.batch.number}/").content.decode()
    assert f"26.5 counts, 22 by {tilda} waits" in batch_page
    [counts] = current_readings(Run.objects.get(pk=two.pk))
    assert str(counts.reading) == "26.5000"


def test_bench_fault_60_the_other_value_is_taken_with_a_reason_and_both_stay(
    two: Run, technician: Any, tilda: Any, as_person: Any
) -> None:
    client = as_person(technician)
    [link] = re.findall(
        r'href="(\?run=\d+&amp;take=[0-9a-f-]+)#slot-30"', client.get(paper(two)).content.decode()
    )
    address = f"/batches/{two.batch.number}/paper/{link.replace('&amp;', '&')}"
    shown = client.get(address).content.decode()
    assert 'name="slot_30_reading" value="22.0"' in shown, "filled in, so that nothing is typed again"
    assert "filled in below: say why" in shown
    [takes] = re.findall(r'name="slot_30_takes" value="([0-9a-f-]+)"', shown)
    row = {"reading": "22.0", "elapsed_s": "44.6", "temperature_c": "20.3", "takes": takes}
    refused = client.post(paper(two), sheet(two, {30: row}))
    assert refused.status_code == 409, "not without a reason"
    assert 'value="22.0"' in refused.content.decode()
    assert Reading.objects.count() == 1
    chosen = client.post(paper(two), sheet(two, {30: row | {"reason": "The first was read on C03."}}))
    assert chosen.status_code == 302
    first, second = Reading.objects.order_by("attempt")
    assert (str(first.reading), str(second.reading), second.attempt) == ("26.5000", "22.0000", 2)
    assert second.source == "tablet", "it was taken at the bench"
    assert second.reason.startswith(f"The first was read on C03. Read by {tilda}, ")
    assert second.by == technician, "who chose"
    after = client.get(paper(two)).content.decode()
    assert "Two values for one reading" not in after
    assert "26.5" in after


def test_a_value_that_is_changed_on_the_way_is_one_from_paper(
    two: Run, technician: Any, as_person: Any
) -> None:
    client = as_person(technician)
    [takes] = re.findall(r"take=([0-9a-f-]+)", client.get(paper(two)).content.decode())
    row = {
        "reading": "22.5",
        "elapsed_s": "44.6",
        "temperature_c": "20.3",
        "takes": takes,
        "reason": "Sheet.",
    }
    assert client.post(paper(two), sheet(two, {30: row})).status_code == 302
    newest = Reading.objects.order_by("attempt").last()
    assert newest is not None
    assert (str(newest.reading), newest.source, newest.reason) == ("22.5000", "paper", "Sheet.")


def test_what_was_refused_for_itself_waits_for_no_choice(
    running: Run, send_entry: Any, a_reading: Any, technician: Any, as_person: Any
) -> None:
    send_entry("reading", a_reading(running))
    assert send_entry("reading", a_reading(running, slot_s=60, reading="99")).status_code == 409
    assert send_entry("reading", a_reading(running, reading="26,5")).status_code == 422
    assert "Two values for one reading" not in as_person(technician).get(paper(running)).content.decode()


def test_the_tablet_leads_from_its_list_to_where_the_two_stand(
    filled_batch: Any, technician: Any, tilda: Any, tablet: Any, a_reading: Any
) -> None:
    """Bench fault 60: no circle of “put it right” without a place for the reason."""
    run = in_laboratory(lambda: filled_batch.runs.select_related("batch").get(position=1))
    started_ago(tablet, technician, run, 33)
    tablet.context.set_offline(True)
    type_reading(tablet, "22.0", "20.3")
    if tablet.is_visible("#keep-asked"):
        tablet.click("#keep-asked")
    told(tablet, "kept on this tablet (1 waiting)")
    in_laboratory(lambda: factories.stored("reading", tilda, **a_reading(run, elapsed_s="20.0")))
    tablet.context.set_offline(False)
    tablet.locator("#refused-list", has_text="has a reading for this time already").wait_for()
    tablet.locator("#refused-list >> text=Compare the two").wait_for()
    assert "Put it right" not in tablet.inner_text("#refused-list")
    tablet.click("#refused-list >> text=Compare the two")
    tablet.wait_for_url("**/paper/**")
    assert "two values for one reading" in tablet.inner_text("main").lower()
    tablet.click("text=Take this one instead")
    tablet.fill('input[name="slot_30_reason"]', "The first was read on another cylinder.")
    tablet.click("text=Keep what is filled in")
    tablet.locator("text=kept by the laboratory").first.wait_for()
    assert [str(each.reading) for each in soon_kept(tablet, Reading, 2)] == ["26.5000", "22.0000"]
