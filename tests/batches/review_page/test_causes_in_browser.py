"""The causes of a review in a real Chromium: a line each, the next one unfolded, nothing that waits hidden."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone

from batches.models import Batch, CauseAnswer
from batches.review import rules as review_rules
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Effect, Needs, Remedy, Told
from particles.distribution.triple import SandSiltClay
from tests.support.browsing import CHROMIUM, cut_off, page_as
from tests.support.full_batch import full_batch
from tests.support.on_tablet import in_laboratory
from tests.support.reviewing import look_at_quality

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SOILS = ("loam", "silt loam", "loam", "clay loam", "sandy loam", "loam", "silt loam", "loam")
KINDS = (
    ("runs_exchanged", Remedy.EXCHANGE),
    ("portion_not_as_asked", Remedy.MASS),
    ("hand_disagrees", Remedy.AGAIN),
    ("join_apart", Remedy.MASS),
    ("rising_reading", Remedy.LEAVE_OUT),
    ("blank_moved", Remedy.BLANK),
    ("readings_copied", Remedy.AGAIN),
    ("soak_short", Remedy.NONE),
)
TALLEST_PX = 5000
"""What a review with eight causes may take on a tablet held upright. [px at 820 px]"""
TABLET, PHONE, DESK = (820, 1180), (390, 844), (1440, 900)


def a_cause(kind: str, remedy: Remedy, labels: tuple[str, ...], needs: Needs, moved_pct: float) -> Cause:
    """A cause with an effect and both its curves in every run it touches."""
    before, after = SandSiltClay(40.0, 40.0, 20.0), SandSiltClay(40.0 + moved_pct, 40.0 - moved_pct, 20.0)
    curves = ((1000.0, 99.0), (50.0, 60.0), (2.0, 20.0)), ((1000.0, 99.0), (50.0, 55.0), (2.0, 18.0))
    effects = tuple(Effect(label, before, after, "loam", "sandy loam", *curves) for label in labels)
    sentence = (
        f"Invented for {kind}: a sentence as long as those the arithmetic says, with {moved_pct:.1f} points."
    )
    told = tuple(
        Told(label, kind, Severity.WARN, sentence, "Compare with the sheet and the photo.")
        for label in labels
    )
    return Cause(
        kind=kind,
        severity=Severity.WARN,
        sentence=sentence,
        next_step="Compare with the sheet and the photo, or analyse again.",
        labels=labels,
        told_by=told,
        remedy=remedy,
        effects=effects if remedy is not Remedy.NONE else (),
        odds=40.0 if remedy is Remedy.EXCHANGE else None,
        needs=needs,
    )


@pytest.fixture
def eight_causes(
    the_client: Any, clerk: Any, technician: Any, bench: Any, qa_officer: Any, work_off: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> Batch:  # fmt: skip
    """A batch under review with four causes that ask for a decision and four for a note."""
    batch = full_batch(the_client, clerk, technician, bench, soils=SOILS)
    work_off()
    titles = [run.title for run in batch.reported_runs.order_by("position")]
    found = [
        a_cause(
            kind, remedy,
            tuple(titles) if remedy is Remedy.BLANK else tuple(titles[k : k + 2]),
            Needs.DECISION if k < 4 else Needs.NOTE,
            9.7 - k,
        )
        for k, (kind, remedy) in enumerate(KINDS)
    ]  # fmt: skip
    monkeypatch.setattr("batches.causes.kept.find_causes", lambda *_: found)
    review_rules.submit(batch, by=technician, at=timezone.now())
    look_at_quality(batch, qa_officer)
    return batch


@pytest.fixture
def shown(
    eight_causes: Batch,
    live_server: Any,
    qa_officer: Any,
    require: Any,
    monkeypatch: pytest.MonkeyPatch,
    request: pytest.FixtureRequest,
) -> Iterator[Any]:
    """The page of the review at one size of the screen."""
    require("browser", CHROMIUM.exists())
    with page_as(
        qa_officer, live_server.url, request.param, monkeypatch, is_fault=lambda said: "Policy" in said.text
    ) as page:
        page.goto(f"/review/{eight_causes.number}/")
        yield page


def unfolded(page: Any) -> list[str]:
    return page.locator(".cause:has(> details[open]) h3").all_inner_texts()


@pytest.mark.parametrize("shown", [TABLET], indirect=True)
def test_eight_causes_are_a_line_each_and_the_first_decision_is_unfolded(shown: Any) -> None:
    assert unfolded(shown) == ["Two runs of a batch may be exchanged"]
    lines = shown.locator(".cause-line").all_inner_texts()
    assert len(lines) == len(KINDS)
    assert sum("asks for a decision" in line for line in lines) == 4
    assert sum("asks for a note" in line for line in lines) == 4
    assert "8 runs" in lines[5]
    assert "up to 9.7 points, class changes" in lines[0]
    assert "effect not known" in lines[7]
    shown.locator(".cause-curves").first.scroll_into_view_if_needed()
    shown.locator(".cause-curves [data-chart-state=drawn]").nth(1).wait_for()
    assert shown.evaluate("document.documentElement.scrollHeight") < TALLEST_PX
    assert shown.evaluate("document.documentElement.scrollWidth") == TABLET[0]


@pytest.mark.parametrize("shown", [TABLET], indirect=True)
def test_an_address_unfolds_the_cause_it_names_and_nothing_else(shown: Any) -> None:
    at_first = unfolded(shown)
    behind = shown.locator("#verdict > details")
    shown.goto(f"{shown.url.split('#')[0]}#verdict")
    assert behind.get_attribute("open") is None
    last = shown.locator(".cause").last.get_attribute("id")
    shown.goto(f"{shown.url.split('#')[0]}#{last}")
    shown.wait_for_selector(f"#{last} > details[open]")
    assert len(unfolded(shown)) == len(at_first) + 1
    assert behind.get_attribute("open") is None


@pytest.mark.parametrize("shown", [PHONE], indirect=True)
def test_on_a_phone_no_figure_of_a_cause_or_a_sample_is_cut_off(shown: Any) -> None:
    shown.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    assert shown.locator(".cause .cards").count() > 0
    assert cut_off(shown) == []


@pytest.mark.parametrize("shown", [TABLET], indirect=True)
def test_an_answer_folds_its_cause_and_unfolds_the_next(shown: Any) -> None:
    form = shown.locator(".cause-form:visible")
    form.locator("[value=repeat]").check()
    form.locator("textarea").fill("Looked at sheet and tray; both bags are weighed out again.")
    form.locator("button").click()
    shown.get_by_text("The answer is kept.").wait_for()
    assert unfolded(shown) == ["The portion is not the mass that was asked for"]
    assert "answered: " in shown.locator(".cause-line").first.inner_text()
    assert in_laboratory(lambda: CauseAnswer.objects.count()) == 1


@pytest.mark.parametrize("shown", [DESK], indirect=True)
def test_an_answer_that_is_refused_stays_unfolded_with_its_complaint(shown: Any) -> None:
    # Charts that are drawn meanwhile move what a click aims at.
    shown.locator(".cause-line").nth(4).press("Enter")
    form = shown.locator(".cause").nth(4).locator(".cause-form")
    form.evaluate("form => { form.noValidate = true; }")
    form.locator("button").click()
    shown.wait_for_load_state()
    assert unfolded(shown) == ["Two runs of a batch may be exchanged", "A corrected reading rises"]


@pytest.mark.parametrize("shown", [PHONE, TABLET], indirect=True)
def test_causes_are_unfolded_by_keys_and_are_accessible_folded_and_unfolded(shown: Any) -> None:
    assert Axe().run(shown).response["violations"] == []
    for line in shown.locator(".cause-line").all()[1:]:
        line.focus()
        shown.keyboard.press("Enter")
    assert len(unfolded(shown)) == len(KINDS)
    assert shown.locator(".cause-form:visible").count() == len(KINDS)
    assert Axe().run(shown).response["violations"] == []
    assert shown.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("shown", [DESK], indirect=True)
def test_a_link_to_a_cause_unfolds_it(shown: Any) -> None:
    place = shown.locator(".cause").nth(5).get_attribute("id")
    shown.evaluate(f"location.hash = '{place}'")
    shown.locator(f"#{place} > details[open]").wait_for()
