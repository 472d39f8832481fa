"""A bench day: asked for, sought, kept, told on the pages, planned again when late."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.models import BenchDay, KeptTimetable, Run, RunVoid
from batches.planning.rules import start_soak
from batches.planning.timetable import Doing
from batches.timetables import rules
from batches.timetables.models import LOST_AFTER, NOT_TAKEN_AFTER, in_force
from batches.timetables.plain import acts_from_plain, day_from_plain, day_to_plain
from batches.timetables.rows import Bench, next_acts
from particles.records.refusals import AlreadyThere, NotPossible, WrongState
from tests.support import factories
from tests.support.bench_checker import wrong_with

pytestmark = pytest.mark.django_db(transaction=True)
FOUR = (30, 60, 5400, 86_400)


def made_void(run: Run, by: Any) -> None:
    spilt_at = timezone.now().isoformat()
    factories.stored("void", by, run=run.pk, why=RunVoid.Why.SPILL.value, note="Spilt.", voided_at=spilt_at)


def wrong(day: BenchDay) -> list[str]:
    """What the separate checker finds wrong in the best timetable of a day that began with nothing running."""
    best = day.best
    asked = day_from_plain(day.asked)
    acts = [{**a, "batch": a["rack"], "act": a["doing"]} for a in best.acts]
    return wrong_with(
        acts,
        slots_s=FOUR,
        cylinders={rack.name: rack.cylinders for rack in asked.racks},
        pace=day.asked["pace"],
        slide_pct=asked.slide.pct,
        blank_within_s=asked.blank_within_s,
        not_placed=[{**lost, "batch": lost["rack"]} for lost in best.not_placed],
        there={person.name: person.there for person in asked.people},
    )


def test_the_first_timetable_is_there_at_once_and_keeps_every_rule(
    filled_batch: Any, asked_day: Callable[..., BenchDay]
) -> None:
    day = asked_day()
    assert (day.state, day.best.turn) == ("asked", 1)
    assert wrong(day) == []
    assert [a.cylinder for a in acts_from_plain(day.best.acts) if a.doing is Doing.START] == ["C02", "C03"]


def test_what_was_asked_for_comes_back_from_plain_values(asked_day: Any, filled_batch: Any) -> None:
    day = asked_day()
    assert day_to_plain(day_from_plain(day.asked), day.asked["pace"]) == day.asked


def test_a_worker_stores_better_timetables_and_the_bound(filled_batch: Any, asked_day: Any) -> None:
    day = asked_day()
    rules.search(day.pk, at=timezone.now(), seconds=2.0)
    day.refresh_from_db()
    assert (day.state, day.attempts) == ("done", 1)
    assert day.best.proven
    assert day.best.lower_bound_s == day.best.last_start_s
    assert wrong(day) == []
    rules.search(day.pk, at=timezone.now(), seconds=2.0)
    day.refresh_from_db()
    assert day.attempts == 1, "a message that comes twice does nothing"


def test_starts_wait_for_the_first_start_and_readings_do_not(
    filled_batch: Any, asked_day: Any, started: Any
) -> None:
    started(1, 600)
    at = timezone.now()
    day = asked_day(at, first_start_at=at + timedelta(hours=3))
    acts = acts_from_plain(day.best.acts)
    starts = [day.at(act.at_s) for act in acts if act.doing is Doing.START]
    assert starts
    assert min(starts) >= at + timedelta(hours=3)
    read = next(day.at(act.at_s) for act in acts if act.slot_s == 5400 and act.cylinder == "C02")
    assert read < at + timedelta(hours=2)


def test_a_running_cylinder_goes_in_with_its_true_start_and_what_is_read(
    filled_batch: Any, technician: Any, asked_day: Any, started: Any
) -> None:
    run, at = started(1, 5700), timezone.now()
    factories.stored(
        "reading", technician, run=run.pk, slot_s=5400, state="read", reading="13.5", elapsed_s="5400",
        temperature_c="20.0", source="tablet",
    )  # fmt: skip
    day = asked_day(at)
    rack = day_from_plain(day.asked).racks[0]
    assert dict(rack.started_s).keys() == {"C02"}
    assert abs((day.at(dict(rack.started_s)["C02"]) - at).total_seconds() + 5700) < 2
    assert ("C02", 5400) in rack.done_s
    acts = [a for a in acts_from_plain(day.best.acts) if a.cylinder == "C02" and a.doing is not Doing.BLANK]
    assert [a.slot_s for a in acts] == [86_400]
    due = day.at(dict(rack.started_s)["C02"]) + timedelta(days=1)
    assert abs((day.at(acts[0].at_s) - due).total_seconds()) <= 0.05 * 86_400


def test_a_void_cylinder_is_read_no_further(filled_batch: Any, technician: Any, asked_day: Any) -> None:
    run = filled_batch.runs.get(position=1)
    made_void(run, technician)
    day = asked_day()
    assert day_from_plain(day.asked).racks[0].cylinders == ("C03",)


def test_hours_through_a_night_in_which_the_clocks_go_forward(
    filled_batch: Any, technician: Any, asked_day: Any, settings: Any
) -> None:
    # 29 Mar 2026, 01:00 UTC: a reading 24 h after Saturday 09:00 falls on Sunday 10:00 by the clocks.
    settings.TIME_ZONE = "Europe/Oslo"
    at = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
    saturday, sunday = date(2026, 3, 28), date(2026, 3, 29)
    at_nine = datetime(2026, 3, 28, 9, 0, tzinfo=ZoneInfo("Europe/Oslo"))
    hours = {technician.pk: {saturday: [(480, 960)], sunday: [(590, 660)]}}
    day = asked_day(at, hours=hours, first_start_at=at_nine, slide_pct=0.0)
    assert not day.best.not_placed
    local = {
        (a.cylinder, a.slot_s): day.at(a.at_s).astimezone(ZoneInfo("Europe/Oslo"))
        for a in acts_from_plain(day.best.acts)
        if a.doing is not Doing.BLANK
    }
    assert f"{local['C02', 0]:%a %H:%M}" == "Sat 09:00"
    assert f"{local['C02', 86_400]:%a %H:%M}" == "Sun 10:00"
    # By the wall clock alone, 09:00 on Sunday would be 24 h after; it is 23 h.
    until_ten = {technician.pk: {saturday: [(480, 960)], sunday: [(530, 580)]}}
    missed = asked_day(at, hours=until_ten, first_start_at=at_nine, slide_pct=0.0)
    assert {lost["cylinder"] for lost in missed.best.not_placed} == {"C02", "C03"}
    assert "nobody" in missed.best.not_placed[0]["reason"] or "24 h" in missed.best.not_placed[0]["reason"]


def test_nobody_there_and_nothing_to_do_are_refused(
    filled_batch: Any, technician: Any, asked_day: Any
) -> None:
    with pytest.raises(NotPossible, match="at no time"):
        asked_day(hours={technician.pk: {}})
    with pytest.raises(NotPossible, match="Nothing is to be started or read"):
        asked_day(batches=[])


def test_what_found_no_place_says_why(filled_batch: Any, technician: Any, asked_day: Any) -> None:
    at = timezone.now()
    today = {technician.pk: {timezone.localdate(at): [(0, 1440)]}}
    day = asked_day(at, hours=today)
    assert {lost["cylinder"] for lost in day.best.not_placed} >= {"C02", "C03"}
    assert "nobody" in day.best.not_placed[0]["reason"] or "somebody" in day.best.not_placed[0]["reason"]


def test_a_batch_that_would_be_started_before_it_has_soaked_is_told(
    the_client: Any, clerk: Any, technician: Any, bench: Any, asked_day: Any, as_person: Any
) -> None:
    now = timezone.now()
    job = factories.job(the_client, clerk)
    portion = factories.portion(factories.prepared(job.samples.get(), technician), technician, bench)
    batch = factories.batch([portion], technician, bench, at=now, filled=False)
    asks_h = batch.method.edition.soak_minimum_h
    assert asks_h > 1
    start_soak(batch, by=technician, at=now - timedelta(hours=asks_h - 1))
    early, late = (asked_day(now, first_start_at=now + timedelta(hours=h)) for h in (0.5, 1.5))
    (told,) = rules.too_soon(early.best, at=now)
    assert (told.batch, told.soaked_at) == (batch, now + timedelta(hours=1))
    assert rules.too_soon(late.best, at=now) == []
    page = " ".join(as_person(technician).get(f"/bench-day/{early.pk}/").content.decode().split())
    assert f"its soak is as long as the method asks at {timezone.localtime(told.soaked_at):%a %H:%M}." in page


def test_the_second_of_two_who_keep_hears_about_the_first(
    filled_batch: Any, technician: Any, manager: Any, asked_day: Any
) -> None:
    one, other, at = asked_day(), asked_day(), timezone.now()
    first = rules.keep(one.best, seen=0, by=technician, at=at)
    assert (first.number, in_force()) == (1, first)
    with pytest.raises(AlreadyThere, match=r"Tomas Example kept timetable 1 .* Yours is not kept"):
        rules.keep(other.best, seen=0, by=manager, at=at)
    assert KeptTimetable.objects.count() == 1
    assert rules.keep(other.best, seen=1, by=manager, at=at).number == 2
    with pytest.raises(AlreadyThere, match="This is timetable 2 already"):
        rules.keep(other.best, seen=2, by=manager, at=at)


def test_a_timetable_that_the_bench_has_left_behind_is_not_kept(
    filled_batch: Any, technician: Any, asked_day: Any, started: Any
) -> None:
    day = asked_day()
    started(1, 5)
    with pytest.raises(AlreadyThere, match="were started, stirred again"):
        rules.keep(day.best, seen=0, by=technician, at=timezone.now())
    assert in_force() is None


def test_kept_timetables_and_what_was_asked_never_change(
    filled_batch: Any, technician: Any, asked_day: Any
) -> None:
    day = asked_day()
    kept = rules.keep(day.best, seen=0, by=technician, at=timezone.now())
    for rows, change in (
        (KeptTimetable.objects.filter(pk=kept.pk), {"number": 7}),
        (day.found.all(), {"acts": []}),
        (BenchDay.objects.filter(pk=day.pk), {"asked": {}}),
        (BenchDay.objects.filter(pk=day.pk), {"state": "done"}),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        KeptTimetable.objects.filter(pk=kept.pk).delete()


def test_whoever_keeps_a_timetable_worked_in_its_batches(
    filled_batch: Any, technician: Any, manager: Any, asked_day: Any
) -> None:
    assert manager.pk not in filled_batch.workers()
    rules.keep(asked_day().best, seen=0, by=manager, at=timezone.now())
    assert manager.pk in filled_batch.workers()


def test_when_late_the_starts_move_and_the_running_cylinder_does_not(
    filled_batch: Any, technician: Any, asked_day: Any, started: Any
) -> None:
    now = timezone.now()
    started(1, 600)
    day = asked_day(now, first_start_at=now + timedelta(minutes=10))
    kept = rules.keep(day.best, seen=0, by=technician, at=now)
    later = now + timedelta(minutes=40)
    again = rules.late(seen=kept.number, by=technician, at=later)
    assert (again.number, again.was_late, in_force()) == (2, True, again)

    def moments(of: KeptTimetable, doing: Doing, slot_s: int) -> dict[str, datetime]:
        acts = acts_from_plain(of.found.acts)
        return {a.cylinder: of.found.day.at(a.at_s) for a in acts if (a.doing, a.slot_s) == (doing, slot_s)}

    assert moments(kept, Doing.START, 0)["C03"] < later <= moments(again, Doing.START, 0)["C03"]
    before, after = (moments(each, Doing.READING, 5400)["C02"] for each in (kept, again))
    assert abs((after - before).total_seconds()) <= 0.1 * 5400
    zero = now - timedelta(seconds=600)
    assert abs((after - zero).total_seconds() - 5400) <= 0.05 * 5400 + 2


def test_late_on_an_old_page_hears_about_the_newer_timetable(
    filled_batch: Any, technician: Any, manager: Any, asked_day: Any
) -> None:
    now = timezone.now()
    with pytest.raises(NotPossible, match="No timetable is in force"):
        rules.late(seen=0, by=technician, at=now)
    rules.keep(asked_day().best, seen=0, by=manager, at=now)
    days = BenchDay.objects.count()
    with pytest.raises(AlreadyThere, match="Mara Example kept timetable 1"):
        rules.late(seen=0, by=technician, at=now)
    assert BenchDay.objects.count() == days, "nothing is left of an act that was refused"


def test_a_search_whose_worker_was_killed_can_be_started_again(
    filled_batch: Any, technician: Any, asked_day: Any, as_person: Any
) -> None:
    day, now = asked_day(), timezone.now()
    page = f"/bench-day/{day.pk}/"
    assert BenchDay.objects.claim(day.pk, at=now) is not None
    with pytest.raises(WrongState, match="seeking better timetables for this day already"):
        rules.search_again(BenchDay.objects.get(pk=day.pk), at=now)
    browser = as_person(technician)
    assert "Search again" not in browser.get(page).content.decode()
    BenchDay.objects.filter(pk=day.pk).update(heartbeat_at=now - LOST_AFTER - timedelta(seconds=1))
    told = browser.get(page).content.decode()
    assert "The worker that sought better timetables fell silent." in told
    assert "Search again" in told
    assert browser.post(f"{page}search/").status_code == 302
    day.refresh_from_db()
    assert day.state == "asked"
    rules.search(day.pk, at=timezone.now(), seconds=1.0)
    day.refresh_from_db()
    assert (day.state, day.attempts) == ("done", 2)


def test_a_worker_given_up_as_lost_stores_nothing_more(filled_batch: Any, asked_day: Any) -> None:
    day = asked_day()
    lost = BenchDay.objects.claim(day.pk, at=timezone.now())
    assert lost is not None
    BenchDay.objects.filter(pk=day.pk).update(state="asked")
    BenchDay.objects.claim(day.pk, at=timezone.now())
    assert not rules._keep_up(lost, None)
    assert day.found.count() == 1


def test_a_search_that_no_worker_takes_up_and_one_that_breaks_off_are_told(
    filled_batch: Any, technician: Any, asked_day: Any, as_person: Any, monkeypatch: Any
) -> None:
    day, browser = asked_day(), as_person(technician)
    page = f"/bench-day/{day.pk}/"
    assert "Waits for a worker" in browser.get(page).content.decode()
    long_ago = timezone.now() - NOT_TAKEN_AFTER - timedelta(seconds=1)
    BenchDay.objects.filter(pk=day.pk).update(search_asked_at=long_ago)
    assert "No worker has taken the search up yet." in browser.get(page).content.decode()

    def broken(*_: Any, **__: Any) -> Any:
        raise RuntimeError("the model refuses")

    monkeypatch.setattr(rules, "better_timetables", broken)
    with pytest.raises(RuntimeError, match="the model refuses"):
        rules.search(day.pk, at=timezone.now())
    day.refresh_from_db()
    assert (day.state, day.error) == ("failed", "RuntimeError('the model refuses')")
    told = browser.get(page).content.decode()
    assert "The search broke off with a fault." in told
    assert "the model refuses" not in told


def test_the_page_that_waits_is_told_of_each_step(
    filled_batch: Any, technician: Any, asked_day: Any, as_person: Any
) -> None:
    day, browser = asked_day(), as_person(technician)
    page = browser.get(f"/bench-day/{day.pk}/").content.decode()
    before = browser.get(f"/bench-day/{day.pk}/progress/").json()["waiting"]
    assert f'data-waiting="{before}"' in page
    rules.search(day.pk, at=timezone.now(), seconds=1.0)
    assert browser.get(f"/bench-day/{day.pk}/progress/").json()["waiting"] != before
    assert "data-waiting" not in browser.get(f"/bench-day/{day.pk}/").content.decode()


def test_batch_and_list_show_what_comes_next_by_the_timetable_in_force(
    filled_batch: Any, technician: Any, asked_day: Any, as_person: Any, started: Any
) -> None:
    now, browser = timezone.now(), as_person(technician)
    first = now + timedelta(minutes=15)
    day = asked_day(now, first_start_at=first)
    assert "timetable 1" not in browser.get(f"/batches/{filled_batch.number}/").content.decode()
    rules.keep(day.best, seen=0, by=technician, at=now)
    found = next_acts([filled_batch], at=now)[filled_batch.pk]
    for address in (f"/batches/{filled_batch.number}/", "/batches/"):
        told = " ".join(browser.get(address).content.decode().split())
        clock = f"{timezone.localtime(found.row.at):%a %H:%M:%S}"
        assert f"{clock}</b> cylinder {found.row.cylinder}: {found.row.what}" in told
    assert next_acts([filled_batch], at=now + timedelta(hours=1))[filled_batch.pk].is_late


def test_the_next_act_follows_what_is_on_record(
    filled_batch: Any, technician: Any, asked_day: Any, started: Any
) -> None:
    rules.keep(asked_day().best, seen=0, by=technician, at=timezone.now())

    def coming() -> set[tuple[str, str]]:
        day = BenchDay.objects.get()
        bench = Bench([filled_batch.pk])
        acts = acts_from_plain(day.best.acts)
        return {(a.cylinder, a.doing.value) for a in acts if not bench.is_over(a, day.at(a.at_s))}

    assert ("C02", "start") in coming()
    run = started(1, 0)
    assert ("C02", "start") not in coming()
    assert ("C02", "reading") in coming()
    made_void(run, technician)
    assert "C02" not in {cylinder for cylinder, _ in coming()}


def test_the_list_asks_the_same_whatever_number_of_acts(
    filled_batch: Any, technician: Any, asked_day: Any, as_person: Any
) -> None:
    browser = as_person(technician)
    rules.keep(asked_day().best, seen=0, by=technician, at=timezone.now())
    browser.get("/batches/")
    with CaptureQueriesContext(connection) as asked:
        browser.get("/batches/")
    assert len([q for q in asked if "timetable" in q["sql"].lower()]) <= 2


def test_pages_name_cylinders_by_their_codes_and_tell_no_bag(
    the_client: Any, clerk: Any, technician: Any, manager: Any, bench: Any, asked_day: Any, as_person: Any
) -> None:
    factories.more_cylinders(bench, 6)
    job = factories.job(the_client, clerk, samples=1)
    portions = [
        factories.portion(factories.prepared(s, technician), technician, bench) for s in job.samples.all()
    ]
    batch = factories.batch_with_duplicates(
        portions, technician, bench, at=timezone.now() - timedelta(days=2)
    )
    assert any(run.is_duplicate for run in batch.runs.all())
    day = asked_day()
    kept = rules.keep(day.best, seen=0, by=technician, at=timezone.now())
    lab_number = job.samples.get().lab_number
    for who in (technician, manager):
        for address in ("/bench-day/", f"/bench-day/{day.pk}/"):
            told = as_person(who).get(address).content.decode()
            assert lab_number not in told
            assert "duplicate" not in told
            assert the_client.name not in told
            for run in Run.objects.filter(batch=batch, is_blank=False):
                assert run.bench_title in told
    assert kept.number == 1


@pytest.mark.parametrize("who", ["clerk", "qa_officer", "custodian", "client_person"])
def test_others_have_no_bench_day(
    who: str, request: Any, as_person: Any, filled_batch: Any, asked_day: Any
) -> None:
    day = asked_day()
    browser = as_person(request.getfixturevalue(who))
    for address in (
        "/bench-day/",
        "/bench-day/new/",
        f"/bench-day/{day.pk}/",
        f"/bench-day/{day.pk}/progress/",
    ):
        assert browser.get(address).status_code == 403
    for address in (f"/bench-day/{day.pk}/keep/", f"/bench-day/{day.pk}/search/", "/bench-day/late/"):
        assert browser.post(address).status_code == 403
    assert in_force() is None
