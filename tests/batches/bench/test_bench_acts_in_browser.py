"""What a tablet offers beside the pad: asking before keeping, putting right, noting, stirring again, voiding."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.models import BlankReading, Entry, Observation, Reading, Replunge, Run, RunStart, RunVoid
from tests.support import factories
from tests.support.on_tablet import (
    in_laboratory,
    kept,
    press,
    soon_kept,
    start_first,
    started_ago,
    told,
    type_reading,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def two_readings(tablet: Any, technician: Any) -> None:
    """The blank was read at 30 s, and its 60 s reading is due: at another time the tablet would ask about that."""
    [blank] = kept(Run, is_blank=True)
    started_ago(tablet, technician, blank, 55)
    read = {"run": blank.pk, "slot_s": 30, "state": "read", "reading": "4.5", "elapsed_s": "30.5"}
    in_laboratory(
        lambda: factories.stored(
            "reading", technician, **read, temperature_c="20.1", source="tablet", reason=""
        )
    )
    tablet.reload()
    tablet.locator("#entry-title", has_text="60 s reading").wait_for()


@pytest.mark.parametrize(
    ("reading", "temperature_c", "words"),
    [
        ("61", "20", "is not on the stem (-5 to 60)"),
        ("5.5", "20", "5.5 is 1 g/L higher than before (4.5)"),
        ("4.5", "68", "68 °C lies outside 10 to 40 °C"),
    ],
)
def test_it_asks_without_a_network_too_and_never_refuses_to_keep(
    two_readings: None, tablet: Any, reading: str, temperature_c: str, words: str
) -> None:
    tablet.context.set_offline(True)
    type_reading(tablet, reading, temperature_c)
    assert words in tablet.inner_text("#ask-list")
    tablet.wait_for_timeout(300)
    assert len(kept(Entry, kind="reading")) == 1
    tablet.click("#keep-asked")
    tablet.wait_for_selector("#ask", state="hidden")
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.context.set_offline(False)
    assert soon_kept(tablet, Entry, 2, kind="reading")[1].content["reading"] == reading


def test_a_value_within_the_band_is_kept_without_a_question(two_readings: None, tablet: Any) -> None:
    type_reading(tablet, "5.0", "20.0")
    assert len(soon_kept(tablet, Reading, 2)) == 2
    assert tablet.is_hidden("#ask")


def test_a_key_takes_the_question_back(two_readings: None, tablet: Any) -> None:
    type_reading(tablet, "45", "20")
    tablet.wait_for_selector("#ask:not([hidden])")
    tablet.click('[data-switch="reading"]')
    press(tablet, ["back"])
    tablet.wait_for_selector("#ask", state="hidden")
    tablet.click("#keep")
    assert str(soon_kept(tablet, Reading, 2)[1].reading) == "4.0000"


def test_a_refused_reading_is_back_in_the_pad_with_its_moment(tablet: Any) -> None:
    start_first(tablet)
    type_reading(tablet, "4.5", "68")
    tablet.click("#keep-asked")
    tablet.locator("#refused-list", has_text="Fahrenheit").wait_for()
    tablet.locator("#value-reading", has_text="4.5").wait_for()
    [refused] = kept(Entry, kind="reading")
    tablet.wait_for_timeout(1500)
    tablet.click('[data-switch="temperature_c"]')
    press(tablet, ["back", "back"])
    press(tablet, "20")
    tablet.click("#keep")
    [reading] = soon_kept(tablet, Reading)
    assert (str(reading.reading), str(reading.temperature_c)) == ("4.5000", "20.0")
    assert f"{reading.elapsed_s:.1f}" == refused.content["elapsed_s"], "not timed anew"
    tablet.wait_for_selector("#refused", state="hidden")


def test_what_is_typed_can_be_cleared_in_two_places(tablet: Any) -> None:
    start_first(tablet)
    press(tablet, "4.5")
    tablet.click("#throw-panel summary")
    tablet.click("#throw-away")
    assert tablet.inner_text("#value-reading").strip() == ""
    tablet.locator(".cylinder").nth(1).click()
    tablet.wait_for_selector("#start:not([hidden])")


def test_one_tap_notes_what_is_seen_and_it_can_be_taken_back(two_readings: None, tablet: Any) -> None:
    tablet.click('[data-sight="foam at the stem"]')
    tablet.click('[data-sight="reading doubtful"]')
    seen = soon_kept(tablet, Observation, 2)
    assert [(each.what, each.slot_s) for each in seen] == [
        ("foam at the stem", None),
        ("reading doubtful", 30),
    ]
    assert abs((seen[0].seen_at - seen[0].at).total_seconds()) < 3
    tablet.locator("#seen-list li", has_text="foam").get_by_text("Take back").click()
    assert soon_kept(tablet, Observation, 3)[2].takes_back_id == seen[0].pk
    # While the list is drawn anew from the laboratory's state it may stand empty for a moment.
    tablet.locator("#seen-list li", has_text="foam").wait_for(state="detached")
    tablet.locator("#seen-list li", has_text="doubtful").wait_for()
    left = [words.lower() for words in tablet.locator("#seen-list li").all_inner_texts()]
    assert left == ["reading doubtful, 30 s reading (tomas example)\ntake back"]


def test_notes_wait_on_the_tablet_and_are_sent_once(tablet: Any) -> None:
    start_first(tablet)
    tablet.context.set_offline(True)
    tablet.click('[data-sight="bench bumped or cylinder moved"]')
    told(tablet, "kept on this tablet (1 waiting)")
    assert "Bench bumped" in tablet.inner_text("#seen-list").capitalize()
    tablet.context.set_offline(False)
    assert len(soon_kept(tablet, Observation)) == 1
    told(tablet, "kept by the laboratory")
    assert len(kept(Entry, kind="observation")) == 1


def test_a_spill_is_kept_at_once_and_void_is_said_in_another_place(two_readings: None, tablet: Any) -> None:
    tablet.click("#spill")
    assert [each.what for each in soon_kept(tablet, Observation)] == ["spill"]
    assert kept(RunVoid) == [], "one tap makes nothing void"
    spill, act = tablet.locator("#spill").bounding_box(), tablet.locator("#make-void").bounding_box()
    assert abs(spill["y"] - act["y"]) > 100
    tablet.fill("#void-note", "Half of it on the floor.")
    tablet.click("#make-void")
    [void] = soon_kept(tablet, RunVoid)
    assert void.in_words == "soil or liquid was lost (Half of it on the floor.)"
    tile = tablet.locator(".cylinder").nth(0)
    assert tile.get_attribute("data-state") == "stopped"
    tile.click()
    tablet.locator("#nothing-open", has_text="Void: soil or liquid was lost").wait_for()
    assert tablet.is_hidden("#read-panel")


def test_a_cylinder_that_becomes_due_does_not_slip_under_the_hand(tablet: Any) -> None:
    start_first(tablet)
    tablet.locator(".cylinder").nth(1).click()
    tablet.click("#void-panel summary")
    tablet.click("text=The cylinder broke")
    tablet.locator("#next-verb", has_text="Lower the hydrometer").wait_for(timeout=40_000)
    tablet.wait_for_timeout(500)
    assert tablet.inner_text("#make-void").startswith("Cylinder C02")
    tablet.click("#make-void")
    [void] = soon_kept(tablet, RunVoid)
    assert in_laboratory(lambda: void.run.position) == 1


def test_void_needs_its_reason(tablet: Any) -> None:
    start_first(tablet)
    tablet.click("#void-panel summary")
    tablet.click("#make-void")
    tablet.wait_for_timeout(500)
    assert kept(Entry, kind="void") == []


def test_stirred_again_the_earlier_reading_is_void_and_the_time_counts_anew(
    two_readings: None, tablet: Any
) -> None:
    tablet.wait_for_timeout(2500)
    tablet.click("#stir-panel summary")
    assert "1 of its readings become void" in tablet.inner_text("#stir-voids")
    tablet.click("#stir")
    assert kept(Replunge) == [], "it asks for the reason"
    tablet.click("text=An early reading was missed")
    tablet.click("#stir")
    [again] = soon_kept(tablet, Replunge)
    assert again.reason == "An early reading was missed."
    tablet.locator("#entry-title", has_text="30 s reading").wait_for()
    tablet.click("#read-now")
    type_reading(tablet, "4.0", "20.0")
    second = soon_kept(tablet, Reading, 2)[1]
    assert (second.replunge_id, second.attempt) == (again.pk, 1)
    assert second.elapsed_s < 5
    assert second.taken_at > again.started_at


@pytest.fixture
def blank(filled_batch: Any) -> Any:
    return filled_batch.blank


@pytest.mark.parametrize("again", [True, False])
def test_a_second_start_asks_whether_it_was_stirred_again(
    blank: Any, technician: Any, tablet: Any, again: bool
) -> None:
    tablet.context.set_offline(True)
    tablet.click("#start")
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.wait_for_timeout(1500)
    # Another tablet is heard first; its plunger came out half a minute before this one's.
    at = timezone.now() - timedelta(seconds=30)
    first = {"run": blank.pk, "started_at": at.isoformat(), "source": "tablet"}
    in_laboratory(lambda: factories.stored("start", technician, **first))
    tablet.context.set_offline(False)
    tablet.locator("#refused-list", has_text="the first start stays").wait_for()
    if again:
        tablet.click("#refused-list >> text=Stirred again: new zero, 0 readings void")
        [made] = soon_kept(tablet, Replunge)
        assert made.started_at > kept(RunStart)[0].started_at
    else:
        tablet.click("#refused-list >> text=Not stirred again")
        tablet.wait_for_timeout(500)
        assert kept(Replunge) == []
        assert len(kept(Entry, kind="start")) == 2, "ignored, but on record"
    tablet.wait_for_selector("#refused", state="hidden")


def test_the_blank_is_read_once_more_without_a_network_and_taken_back(
    two_readings: None, tablet: Any
) -> None:
    tablet.locator(".cylinder").nth(0).click()
    tablet.context.set_offline(True)
    tablet.click("#blank-once-more")
    tablet.locator("#entry-title", has_text="one more reading").wait_for()
    assert not tablet.is_visible("#above")
    type_reading(tablet, "4.0", "20.5")
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.locator("#blank-list li", has_text="4.0 g/L, 20.5 °C").wait_for()
    tablet.context.set_offline(False)
    [more] = soon_kept(tablet, BlankReading)
    assert (str(more.reading), str(more.temperature_c)) == ("4.0000", "20.5")
    assert more.run_id in [run.pk for run in kept(Run, is_blank=True)]
    tablet.locator("#blank-list").get_by_text("Take back").click()
    back = soon_kept(tablet, BlankReading, 2)[1]
    assert (back.takes_back_id, back.note) == (more.pk, "Typed by mistake.")
