"""The tablet at the bench, in a real Chromium: times, the pad, and no network."""

from __future__ import annotations

from typing import Any

import pytest

from batches.models import Entry, Reading, Run, RunStart
from tests.support.on_tablet import kept, press, soon_kept, started_ago, told

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_start_and_a_reading_reach_the_laboratory_with_their_times(tablet: Any) -> None:
    tablet.click("#start")
    tablet.wait_for_selector("#read-panel:not([hidden])")
    tablet.wait_for_timeout(1500)
    assert tablet.is_hidden("#band"), "no band before a value is typed"
    tablet.click("#read-now")
    press(tablet, "4.5")
    assert tablet.is_disabled("#keep") is False, "goes on to the temperature"
    tablet.click("#keep")
    press(tablet, "20.1")
    tablet.wait_for_timeout(1000)
    tablet.click("#keep")
    tablet.locator("#entry-title", has_text="60 s").wait_for()
    [reading] = soon_kept(tablet, Reading)
    told(tablet, "kept by the laboratory")
    assert 1.4 <= reading.elapsed_s <= 2.9, "the moment of the tap, not of the typing"
    assert (str(reading.reading), str(reading.temperature_c)) == ("4.5000", "20.1")
    assert [start.source for start in kept(RunStart)] == ["tablet"]


def test_without_a_network_entries_wait_and_are_sent_once(tablet: Any) -> None:
    tablet.click("#start")
    soon_kept(tablet, RunStart)
    tablet.wait_for_selector("#read-panel:not([hidden])")
    tablet.context.set_offline(True)
    tablet.keyboard.type("5.0")
    tablet.keyboard.press("Enter")
    tablet.keyboard.type("19.8")
    tablet.keyboard.press("Enter")
    told(tablet, "kept on this tablet (1 waiting)")
    assert kept(Reading) == []
    tablet.keyboard.press("ArrowDown")
    assert tablet.inner_text("#value-reading") == "4.5"
    assert tablet.is_visible("#band")
    tablet.context.set_offline(False)
    assert len(soon_kept(tablet, Reading)) == 1
    told(tablet, "kept by the laboratory")
    assert len(kept(Entry, kind="reading")) == 1


def test_a_refused_entry_is_shown_until_it_is_read(tablet: Any) -> None:
    tablet.click("#start")
    tablet.wait_for_selector("#read-panel:not([hidden])")
    press(tablet, "61")
    tablet.click('[data-switch="temperature_c"]')
    press(tablet, "20")
    tablet.click("#keep")
    assert "61 g/L is not on the stem (-5 to 60)." in tablet.inner_text("#ask-list")
    assert kept(Entry, kind="reading") == []
    tablet.click("#keep-asked")
    tablet.wait_for_selector("#refused:not([hidden])")
    assert "is not on the stem" in tablet.inner_text("#refused-list")
    tablet.click("#refused-list button >> text=I have read it")
    tablet.wait_for_selector("#refused", state="hidden")
    assert kept(Reading) == []
    assert [entry.content["reading"] for entry in kept(Entry, kind="reading")] == ["61"]


def test_a_missed_slot_asks_for_its_reason(tablet: Any) -> None:
    tablet.click("#start")
    tablet.wait_for_selector("#read-panel:not([hidden])")
    tablet.click("#missed summary")
    tablet.click("#keep-missed")
    tablet.fill("#other-reason", "The bench was bumped.")
    tablet.click("#keep-missed")
    tablet.locator("#entry-title", has_text="60 s").wait_for()
    assert [reading.reason for reading in soon_kept(tablet, Reading)] == ["The bench was bumped."]


def test_a_second_tap_never_starts_the_next_cylinder(tablet: Any) -> None:
    # The page would offer the next cylinder at once: both taps are given in one breath.
    tablet.evaluate("() => { const s = document.getElementById('start'); s.click(); s.click(); s.click(); }")
    soon_kept(tablet, RunStart)
    tablet.wait_for_timeout(500)
    assert len(kept(RunStart)) == 1


def test_tapping_another_cylinder_does_not_throw_a_typed_reading_away(tablet: Any) -> None:
    tablet.click("#start")
    tablet.wait_for_selector("#read-panel:not([hidden])")
    press(tablet, "4.5")
    tablet.locator(".cylinder").nth(1).click()
    tablet.locator("#notice", has_text="keep or clear what is typed first").wait_for()
    assert tablet.inner_text("#value-reading") == "4.5"


def test_a_reading_takes_three_taps_and_no_value_is_there_before_its_tap(
    technician: Any, tablet: Any
) -> None:
    [blank] = kept(Run, is_blank=True)
    started_ago(tablet, technician, blank, 33)
    assert tablet.is_hidden("#same")
    assert tablet.locator("[data-step]:disabled").count() == 4, "no last value to step from"
    press(tablet, "4.5")
    tablet.click("#keep")
    press(tablet, "20.1")
    tablet.click("#keep")
    soon_kept(tablet, Reading)
    tablet.locator("#same", has_text="Same as before").wait_for()
    assert (
        tablet.inner_text("#value-reading").strip() == tablet.inner_text("#value-temperature_c").strip() == ""
    )
    assert tablet.locator("[data-step]").all_inner_texts() == ["−\u00a01", "−\u00a00.5", "4.5", "+\u00a00.5"]
    tablet.wait_for_timeout(10_000)  # so early that it is no 60 s reading, the tablet would ask
    tablet.click('[data-step="-1"]')
    tablet.click("#same")
    tablet.click("#keep")
    second = soon_kept(tablet, Reading, 2)[1]
    assert (second.slot_s, str(second.reading), str(second.temperature_c)) == (60, "4.0000", "20.1")
    assert second.by_id == technician.pk


HEARD = """(() => {
  window.tones = [];
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...at) {
    window.tones.push(this.frequency.value);
    return start.apply(this, at);
  };
})()"""


def test_the_sound_is_asked_for_once_when_the_bench_opens(tablet: Any) -> None:
    tablet.add_init_script(HEARD)
    tablet.reload()
    tablet.locator("#next-verb", has_text="Start").wait_for()
    assert tablet.is_visible("#sound-ask")
    assert tablet.get_attribute("#sound", "aria-pressed") == "false"
    tablet.click("#sound-on")
    assert tablet.is_hidden("#sound-ask")
    assert tablet.get_attribute("#sound", "aria-pressed") == "true"
    assert tablet.evaluate("tones") == [660], "to be heard at once"
    tablet.reload()
    tablet.locator("#next-verb", has_text="Start").wait_for()
    assert tablet.is_hidden("#sound-ask"), "asked once"
    assert tablet.evaluate("tones") == []
    tablet.click("#start")
    soon_kept(tablet, RunStart)
    assert tablet.get_attribute("#sound", "aria-pressed") == "true", "on again by the first tap"


def test_who_wants_no_sound_is_not_asked_again_and_may_turn_it_on(tablet: Any) -> None:
    tablet.add_init_script(HEARD)
    tablet.click("#sound-off")
    tablet.reload()
    tablet.locator("#next-verb", has_text="Start").wait_for()
    assert tablet.is_hidden("#sound-ask")
    tablet.locator("h1").click()
    assert tablet.evaluate("tones") == []
    tablet.click("#sound")
    assert tablet.evaluate("tones") == [660]
    tablet.click("#sound")
    assert tablet.get_attribute("#sound", "aria-pressed") == "false"
