"""The bench opened again without a network: the page, the clock, and who it belongs to."""

from __future__ import annotations

import threading
import time
from typing import Any

import pytest
from django.contrib.auth import get_user_model

from batches.bench.state import state_of
from batches.models import Entry, HandedIn, Reading, RunStart
from tests.support.on_tablet import (
    bench_is_kept,
    in_laboratory,
    kept,
    press,
    reload_offline,
    soon_kept,
    soon_true,
    start_first,
    told,
    type_reading,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CLOCK_AHEAD = "(() => { const now = Date.now; Date.now = () => now() + 3600000; })()"
MOVABLE_CLOCK = """(() => {
  const now = Date.now;
  Date.now = () => now() + (location.protocol === "about:" ? 0 : Number(localStorage.getItem("ahead_ms")));
})()"""
CACHES = "async () => (await caches.keys()).filter((name) => name.startsWith('siltbook-bench/'))"
WORKERS = "async () => (await navigator.serviceWorker.getRegistrations()).length"


def since_start_s(page: Any) -> float:
    """As the page shows it: “…, 1:05 since the start”."""
    shown = page.inner_text("#entry-title").split(" since")[0].split()[-1]
    minutes, seconds = shown.split(":")[-2:]
    return int(minutes) * 60 + int(seconds)


def true_elapsed_s(typed_at: float) -> float:
    """By this computer's clock, which nobody moved."""
    return typed_at - kept(RunStart)[0].started_at.timestamp()


def now_s() -> float:
    return time.time()


def stop_workers(page: Any) -> None:
    session = page.context.new_cdp_session(page)
    session.send("ServiceWorker.enable")
    session.send("ServiceWorker.stopAllWorkers")
    session.detach()


def move_clock(page: Any, ahead_ms: int) -> None:
    page.evaluate(f"() => localStorage.setItem('ahead_ms', '{ahead_ms}')")


def switch_off_and_on(page: Any) -> None:
    """Without a network: the page is gone, the counter behind it as well, and the page is opened again."""
    bench = page.url
    page.context.set_offline(True)
    page.goto("about:blank")
    stop_workers(page)
    page.goto(bench)
    page.wait_for_selector('#bench[data-served="tablet"]', state="attached")
    page.locator("#notice", has_text="Nothing proves this tablet's time").wait_for()


def test_reloaded_offline_it_shows_the_batch_and_the_queue_and_counts_on(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    tablet.context.set_offline(True)
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (1 waiting)")
    reload_offline(tablet)
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.locator("#entry-title", has_text="60 s reading").wait_for()
    elapsed_s = true_elapsed_s(now_s())
    assert abs(since_start_s(tablet) - elapsed_s) <= 1.5
    typed_at = now_s()
    type_reading(tablet, "4.0", "20.2")
    tablet.locator("#ask-list", has_text="the 60 s reading is far from it").wait_for()
    tablet.click("#keep-asked")
    told(tablet, "kept on this tablet (2 waiting)")
    assert kept(Reading) == []
    tablet.context.set_offline(False)
    readings = soon_kept(tablet, Reading, 2)
    told(tablet, "kept by the laboratory")
    assert [str(r.reading) for r in readings] == ["4.5000", "4.0000"]
    assert abs(float(readings[1].elapsed_s) - true_elapsed_s(typed_at)) < 1.0
    assert [r.time_doubt for r in readings] == [None, None]
    assert len(kept(Entry, kind="reading")) == 2


def test_the_very_first_start_and_its_readings_need_no_network(tablet: Any) -> None:
    bench_is_kept(tablet)
    tablet.context.set_offline(True)
    tablet.click("#start")
    started_at = now_s()
    tablet.wait_for_selector("#read-panel:not([hidden])")
    reload_offline(tablet)
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (2 waiting)")
    tablet.context.set_offline(False)
    [reading] = soon_kept(tablet, Reading)
    assert abs(kept(RunStart)[0].started_at.timestamp() - started_at) < 1.0
    assert abs(float(reading.elapsed_s) - (typed_at - started_at)) < 1.0
    assert (len(kept(Entry, kind="start")), len(kept(Entry, kind="reading"))) == (1, 1)


def test_a_clock_moved_while_it_was_reloaded_does_not_touch_the_elapsed_time(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    tablet.wait_for_timeout(1000)
    tablet.add_init_script(CLOCK_AHEAD)
    reload_offline(tablet)
    tablet.locator("#notice", has_text="Nothing proves this tablet's time").wait_for()
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    tablet.locator(".cylinder").nth(1).click()
    assert tablet.is_hidden("#start"), "no start from an unproven clock"
    assert "START waits" in tablet.inner_text("#start-waits")
    tablet.context.set_offline(False)
    [reading] = soon_kept(tablet, Reading)
    assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at)) < 1.0
    # The counter behind the page was right; a browser under load may end it, then the time is put right and marked.
    assert reading.time_doubt in (None, "restarted")
    tablet.wait_for_selector("#start:not([hidden])")


def test_a_clock_moved_while_the_tablet_was_off_is_put_right_and_marked(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    tablet.wait_for_timeout(1000)
    tablet.add_init_script(CLOCK_AHEAD)
    switch_off_and_on(tablet)
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.context.set_offline(False)
    [reading] = soon_kept(tablet, Reading)
    assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at)) < 1.5
    assert reading.time_doubt == "restarted"
    assert abs(float(reading.time_doubt_s) - 3600) < 1.5
    [entry] = kept(Entry, kind="reading")
    assert float(entry.content["elapsed_tablet_s"]) > 3600, "what the tablet thought is kept as well"


def test_a_tablet_that_was_off_with_a_right_clock_is_proven_by_the_laboratory(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    switch_off_and_on(tablet)
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    tablet.context.set_offline(False)
    [reading] = soon_kept(tablet, Reading)
    assert reading.time_doubt is None
    assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at)) < 1.0


@pytest.mark.parametrize("moved_ms", [3600000, -3600000])
def test_a_clock_moved_under_the_open_page_does_not_touch_the_elapsed_time(
    tablet: Any, moved_ms: int
) -> None:
    start_first(tablet)
    tablet.context.set_offline(True)
    tablet.evaluate(f"() => {{ const now = Date.now; Date.now = () => now() + ({moved_ms}); }}")
    tablet.wait_for_timeout(1000)
    assert since_start_s(tablet) < 30
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    tablet.context.set_offline(False)
    [reading] = soon_kept(tablet, Reading)
    assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at)) < 1.0
    assert reading.time_doubt is None


def test_an_online_reload_settles_what_was_taken_in_doubt(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    tablet.add_init_script(CLOCK_AHEAD)
    switch_off_and_on(tablet)
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (1 waiting)")
    # The page goes before it hears of the network; the next one comes from the laboratory.
    tablet.evaluate("() => { window.fetch = () => Promise.reject(new Error('gone')); }")
    tablet.context.set_offline(False)
    tablet.reload()
    [reading] = soon_kept(tablet, Reading)
    assert reading.time_doubt == "restarted"
    assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at)) < 1.5


@pytest.mark.parametrize("counter_goes_on", [True, False])
def test_a_clock_put_right_since_proves_no_time_it_gave_while_it_was_wrong(
    tablet: Any, counter_goes_on: bool
) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    tablet.add_init_script(MOVABLE_CLOCK)
    move_clock(tablet, 4500)  # less than what the laboratory refuses as lying in its future
    switch_off_and_on(tablet)
    typed_at = now_s()
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.evaluate("() => { window.fetch = () => Promise.reject(new Error('gone')); }")
    tablet.context.set_offline(False)
    tablet.wait_for_timeout(500)
    move_clock(tablet, 0)
    if not counter_goes_on:
        stop_workers(tablet)
    tablet.reload()
    [reading] = soon_kept(tablet, Reading)
    assert reading.time_doubt == "restarted"
    if reading.time_doubt_s is None:  # the clock is right now, and no counter tells how far it was off
        assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at) - 4.5) < 1.0, "as the tablet counted"
    else:
        assert counter_goes_on
        assert reading.time_doubt_s > 1
        assert abs(float(reading.elapsed_s) - true_elapsed_s(typed_at)) < 1.0


def test_only_the_bench_is_kept(tablet: Any) -> None:
    bench_is_kept(tablet)
    urls = tablet.evaluate(
        """async () => {
            const found = [];
            for (const name of await caches.keys())
              for (const request of await (await caches.open(name)).keys()) found.push(new URL(request.url).pathname);
            return found;
        }"""
    )
    pages = sorted({url for url in urls if not url.startswith("/static/")})
    assert pages == ["/bench/", "/bench/state/"]
    tablet.goto(tablet.url.replace("bench/", "batches/"))
    assert tablet.evaluate("() => navigator.serviceWorker.controller") is None
    tablet.context.set_offline(True)
    with pytest.raises(Exception, match=r"ERR_INTERNET_DISCONNECTED|ERR_FAILED"):
        tablet.reload()
    tablet.context.set_offline(False)


def test_a_log_out_leaves_nothing_but_what_waits(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    bench = tablet.url
    tablet.context.set_offline(True)
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (1 waiting)")
    tablet.route("**/bench/entries/", lambda route: route.abort())
    tablet.context.set_offline(False)
    tablet.goto(bench.replace("bench/", "batches/"))
    tablet.click("text=Log out")
    asked = tablet.locator("dialog", has_text="Something waits on this tablet")
    assert "Cylinder C01, 30 s: 4.5, 20.1 °C" in asked.inner_text()
    asked.get_by_role("button", name="Stay").click()
    tablet.click("text=Log out")
    with tablet.expect_download() as saved:
        asked.get_by_role("button", name="Save them as a file").click()
    assert '"reading":"4.5"' in saved.value.path().read_text(encoding="utf-8")
    asked.get_by_role("button", name="Log out all the same").click()
    tablet.wait_for_url("**/account/login/**")
    assert tablet.evaluate(CACHES) == []
    assert tablet.evaluate(WORKERS) == 0
    waiting = """() => new Promise((done) => { const asked = indexedDB.open('siltbook-bench');
        asked.onsuccess = () => { asked.result.transaction('entries').objectStore('entries').count().onsuccess =
            (event) => done(event.target.result); }; })"""
    assert tablet.evaluate(waiting) == 1
    assert kept(Reading) == []
    tablet.context.set_offline(True)
    with pytest.raises(Exception, match=r"ERR_INTERNET_DISCONNECTED|ERR_FAILED"):
        tablet.goto(bench)
    tablet.context.set_offline(False)


def test_another_person_does_not_find_the_page_of_the_one_before(
    manager: Any, tablet: Any, as_person: Any, live_server: Any
) -> None:
    bench_is_kept(tablet)
    bench = tablet.url
    cookie = in_laboratory(lambda: as_person(manager).cookies["sessionid"].value)
    tablet.goto("about:blank")
    tablet.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    assert tablet.goto(bench).status == 403, "the manager reads no cylinder"
    assert tablet.evaluate(CACHES) == []


def test_a_session_that_ended_takes_the_kept_page_with_it(tablet: Any) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    tablet.context.clear_cookies()
    tablet.evaluate("() => window.dispatchEvent(new Event('online'))")
    soon_true(tablet, "async () => (await caches.keys()).length === 0")


def test_when_the_laboratory_hangs_the_tablet_opens_its_own_page(
    tablet: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    start_first(tablet)
    bench_is_kept(tablet)
    answers = threading.Event()

    def hanging(batch: Any) -> Any:
        answers.wait(30)
        return state_of(batch)

    monkeypatch.setattr("batches.bench.views.state_of", hanging)
    try:
        began = now_s()
        tablet.reload()
        tablet.wait_for_selector('#bench[data-served="tablet"]', state="attached")
        assert 3 < now_s() - began < 10
        press(tablet, "4")
        assert tablet.inner_text("#value-reading") == "4"
    finally:
        answers.set()
    tablet.locator("#notice", has_text="does not answer").wait_for(state="hidden")


def test_the_next_person_hands_in_what_was_left_with_a_witness(
    tablet: Any, as_person: Any, live_server: Any
) -> None:
    start_first(tablet)
    tablet.route("**/bench/entries/", lambda route: route.abort())
    type_reading(tablet, "4.5", "20.1")
    told(tablet, "kept on this tablet (1 waiting)")
    next_person = in_laboratory(
        lambda: get_user_model().objects.create(username="tilda", first_name="Tilda", roles=["technician"])
    )
    cookie = in_laboratory(lambda: as_person(next_person).cookies["sessionid"].value)
    tablet.goto("about:blank")
    tablet.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    tablet.unroute("**/bench/entries/")
    tablet.goto(f"{live_server.url}/bench/")
    tablet.locator("#notice", has_text="1 taken by").wait_for()
    assert kept(Reading) == [], "it is not sent by itself"
    tablet.get_by_role("button", name="Hand them in, with me as witness").click()
    [reading] = soon_kept(tablet, Reading)
    [handed_in] = kept(HandedIn)
    assert in_laboratory(lambda: (str(reading.by), str(handed_in.by))) == ("Tomas Example", "Tilda")
    tablet.wait_for_selector("#left-here", state="hidden")
