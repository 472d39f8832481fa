"""The opening block in a real Chromium: pad and verb stay with its cylinder, late readings wait beside it."""

from __future__ import annotations

from typing import Any

import pytest

from batches.models import Entry, Reading, RunStart
from tests.support.on_tablet import kept, press, soon_kept, started_ago, told, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def runs(filled_batch: Any) -> list[Any]:
    return list(filled_batch.runs.select_related("cylinder").order_by("position"))


@pytest.fixture
def late_and_opening(runs: list[Any], technician: Any, tablet: Any) -> list[Any]:
    """The blank waits for its readings since 11 min; the second cylinder was started 18 s ago."""
    started_ago(tablet, technician, runs[0], 660)
    started_ago(tablet, technician, runs[1], 18)
    return runs


def shown(tablet: Any) -> tuple[str, str]:
    return tablet.inner_text("#next-verb"), tablet.inner_text("#next-number")


def test_the_opening_minute_keeps_pad_verb_and_count_down(late_and_opening: list[Any], tablet: Any) -> None:
    serial = late_and_opening[1].cylinder.serial
    assert shown(tablet)[1] == serial
    tablet.locator("#next-verb", has_text="Lower the hydrometer").wait_for()
    assert tablet.inner_text("#entry-title").startswith(f"Cylinder {serial}")
    assert tablet.locator("#late-list li").count() == 2, "the blank's late readings wait"
    tablet.locator("#next-verb", has_text="Read now").wait_for(timeout=15_000)
    assert shown(tablet)[1] == serial
    type_reading(tablet, "38.0", "20.0")
    [reading] = soon_kept(tablet, Reading)
    assert reading.run_id == late_and_opening[1].pk
    tablet.locator("#next-verb", has_text="Leave it in").wait_for()
    tablet.locator("#entry-title", has_text="60 s reading").wait_for()
    assert tablet.inner_text("#entry-title").startswith(f"Cylinder {serial}"), "after Keep too"


def test_after_start_the_pad_is_that_cylinders(runs: list[Any], technician: Any, tablet: Any) -> None:
    started_ago(tablet, technician, runs[0], 660)
    tablet.locator(".cylinder").nth(2).click()
    tablet.click("#start")
    soon_kept(tablet, RunStart, 2)
    told(tablet, "kept by the laboratory")
    assert shown(tablet) == ("Next reading", runs[2].cylinder.serial)
    assert tablet.inner_text("#entry-title").startswith(f"Cylinder {runs[2].cylinder.serial}")


def test_a_late_reading_is_given_as_missed_in_one_tap_and_taken_back(
    runs: list[Any], technician: Any, tablet: Any
) -> None:
    started_ago(tablet, technician, runs[0], 660)
    started_ago(tablet, technician, runs[2], 500)
    tablet.locator("#late-list button", has_text="Missed").first.dblclick()
    [reading] = soon_kept(tablet, Reading)
    assert (reading.run_id, reading.slot_s, reading.state) == (runs[0].pk, 30, "missed")
    assert reading.reason == "Another cylinder was being read."
    tablet.wait_for_timeout(500)
    assert len(kept(Entry, kind="reading")) == 1, "the second tap is not for the next one"
    tablet.click("#late-back")
    serial = runs[0].cylinder.serial
    late = tablet.locator("#late-list li", has_text=f"{serial}, 30 s")
    late.wait_for()
    late.locator("button").first.click()
    tablet.locator("#entry-title", has_text=f"Cylinder {serial}").wait_for()
    assert "30 s reading" in tablet.inner_text("#entry-title")
    type_reading(tablet, "4.5", "20.0")
    tablet.locator(
        "#ask-list", has_text="the 30 s reading is far from it, the 90 min reading nearer"
    ).wait_for()
    tablet.click("#keep-asked")
    read = soon_kept(tablet, Reading, 2)[1]
    assert (read.slot_s, read.state, read.attempt) == (30, "read", 2)
    assert read.reason == "Given as missed by mistake."


def test_a_look_at_another_cylinder_is_said_and_ends_with_the_next_step(
    late_and_opening: list[Any], tablet: Any
) -> None:
    own, other = late_and_opening[1].cylinder.serial, late_and_opening[0].cylinder.serial
    tablet.locator("#next-verb", has_text="Lower the hydrometer").wait_for()
    tablet.locator(".cylinder").nth(0).click()
    assert other in tablet.inner_text("#elsewhere-words")
    tablet.click("#elsewhere-back")
    assert tablet.inner_text("#entry-title").startswith(f"Cylinder {own}")
    assert tablet.is_hidden("#elsewhere")
    tablet.locator(".cylinder").nth(0).click()
    tablet.locator("#next-verb", has_text="Read now").wait_for(timeout=15_000)
    assert tablet.inner_text("#entry-title").startswith(f"Cylinder {own}"), (
        "its reading is due: the pad is back"
    )


def test_the_pad_stays_while_something_is_typed_in_it(late_and_opening: list[Any], tablet: Any) -> None:
    other = late_and_opening[0].cylinder.serial
    tablet.locator("#late-list button").first.click()
    press(tablet, "4")
    tablet.locator("#next-verb", has_text="Read now").wait_for(timeout=15_000)
    press(tablet, ".5")
    assert tablet.inner_text("#entry-title").startswith(f"Cylinder {other}")
    assert tablet.inner_text("#value-reading") == "4.5"
    assert shown(tablet)[1] == late_and_opening[1].cylinder.serial, "the verb stays with its own"


def test_after_the_last_reading_it_says_lift_then_temperature(
    runs: list[Any], technician: Any, tablet: Any
) -> None:
    started_ago(tablet, technician, runs[1], 58)
    tablet.locator("#next-verb", has_text="Read now").wait_for(timeout=10_000)
    press(tablet, "36.0")
    tablet.locator("#next-verb", has_text="Lift, rinse, wipe").wait_for()
    assert tablet.is_hidden("#next-time")
    tablet.click("#keep")  # on to the temperature
    tablet.locator("#next-verb", has_text="Temperature").wait_for(timeout=20_000)
    assert shown(tablet)[1] == runs[1].cylinder.serial
    press(tablet, "20.0")
    tablet.locator("#next-verb", has_text="Keep it").wait_for()
    tablet.click("#keep")
    tablet.locator("#next-verb", has_text="Start").wait_for()


def test_a_person_who_does_what_it_says_reads_both_at_their_times(
    runs: list[Any], technician: Any, tablet: Any
) -> None:
    """The whole opening block by the screen's own words, in real time, beside a cylinder that is late."""
    started_ago(tablet, technician, runs[0], 660)
    tablet.click("#sound-off")
    tablet.locator(".cylinder").nth(1).click()
    tablet.click("#start")
    said: list[str] = []
    while said[-1:] != ["Lift, rinse, wipe"] and len(said) < 7:
        verb, serial = shown(tablet)
        assert serial == runs[1].cylinder.serial, "never the late one"
        if [verb] == said[-1:]:
            tablet.wait_for_timeout(100)
            continue
        said.append(verb)
        if said.count("Read now") == 1 and verb == "Read now":
            type_reading(tablet, "38.0", "20.0")
        elif verb == "Read now":
            for key in ('[data-step="-2"]', "#same", "#keep"):
                tablet.click(key)
    assert said == [
        "Next reading",
        "Lower the hydrometer",
        "Read now",
        "Leave it in",
        "Read now",
        "Lift, rinse, wipe",
    ]
    first, second = soon_kept(tablet, Reading, 2)
    assert {first.run_id, second.run_id} == {runs[1].pk}
    assert 30 <= first.elapsed_s < 33
    assert 60 <= second.elapsed_s < 63
    assert (str(second.reading), str(second.temperature_c)) == ("37.0000", "20.0")


def test_axe_finds_nothing_with_late_readings_and_another_cylinder_shown(
    late_and_opening: list[Any], tablet: Any
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    tablet.locator("#late-list button", has_text="Missed").first.click()
    tablet.locator("#late-back").wait_for()
    tablet.locator(".cylinder").nth(0).click()
    tablet.locator("#elsewhere-back").wait_for()
    found = Axe().run(tablet)
    assert found.violations_count == 0, found.generate_report()
