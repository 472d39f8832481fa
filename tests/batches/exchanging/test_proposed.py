"""What a cause proposes fills its form, with what is on record beside it. All figures invented."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch, MassCorrection
from batches.review import rules as approval
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Needs, Remedy
from tests.support import factories
from tests.support.browsing import CHROMIUM, page_as
from tests.support.reviewing import look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)
ONE, OTHER = "26-00001", "26-00002"
WHY = "The photograph of the sheet shows the other mass."


@pytest.fixture
def under_review(
    the_client: Any,
    clerk: Any,
    technician: Any,
    qa_officer: Any,
    bench: Any,
    work_off: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> Callable[..., tuple[Batch, str]]:
    """A batch of two samples handed over, in which one cause with this remedy is found, and its key."""

    def made(remedy: Remedy, *labels: str, **more: Any) -> tuple[Batch, str]:
        batch = factories.measured_batch(the_client, clerk, technician, bench, samples=2)
        work_off()
        cause = Cause(
            kind="hand_disagrees",
            severity=Severity.WARN,
            sentence="Something is not as it was written.",
            next_step="Look.",
            labels=labels,
            needs=Needs.DECISION,
            remedy=remedy,
            **more,
        )
        monkeypatch.setattr("batches.causes.kept.find_causes", lambda *_: (cause,))
        approval.submit(batch, by=technician, at=timezone.now())
        look_at_quality(batch, qa_officer)
        return batch, cause.key

    return made


def page_of(client: Any, batch: Batch, key: str) -> Any:
    return client.get(f"/review/{batch.number}/put-right/?cause={key}")


def proposed_rows(shown: str) -> list[list[str]]:
    """Cells of the table of what is proposed, row by row."""
    table = shown[shown.index("as proposed") :]
    rows = re.findall(r"<tr>(.*?)</tr>", table[: table.index("</table>")], re.DOTALL)
    return [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in rows]


def test_a_wrong_mass_comes_filled_in_with_the_one_on_record_beside_it(
    under_review: Any, qa_officer: Any, as_person: Any
) -> None:
    batch, key = under_review(Remedy.MASS, ONE, mass_g=33.04)
    client, run = as_person(qa_officer), batch.sample_runs.get(portion__sample__lab_number=ONE)
    review = client.get(f"/review/{batch.number}/").content.decode()
    assert f"/review/{batch.number}/put-right/?cause={key}#proposed" in review
    page = page_of(client, batch, key)
    form = page.context["mass_form"]
    assert form.initial == {"run": run.pk, "purpose": "portion", "mass_g": "33.04"}
    shown = page.content.decode()
    assert proposed_rows(shown)[1:] == [[f"{ONE}, air-dry portion", "40 g", "33.04 g"]]
    assert 'value="33.04"' in shown
    assert f"#cause-{key}" in shown, "the way back leads to the cause"
    assert page.context["exchange_form"].initial == {}
    typed = {"mass-run": run.pk, "mass-purpose": "portion", "mass-mass_g": "33.04", "mass-reason": WHY}
    sent = client.post(f"/review/{batch.number}/put-right/mass/?cause={key}", typed)
    assert sent.status_code == 302
    assert str(MassCorrection.objects.get().mass_g) == "33.0400"


def test_a_refusal_keeps_what_was_typed_and_what_was_proposed(
    under_review: Any, qa_officer: Any, as_person: Any
) -> None:
    batch, key = under_review(Remedy.MASS, ONE, mass_g=33.04)
    client, run = as_person(qa_officer), batch.sample_runs.get(portion__sample__lab_number=ONE)
    shown = page_of(client, batch, key).content.decode()
    (address,) = re.findall(r'action="([^"]+/mass/[^"]+)"', shown)
    assert address == f"/review/{batch.number}/put-right/mass/?cause={key}#mass"
    typed = {"mass-run": run.pk, "mass-purpose": "portion", "mass-mass_g": "3450"}
    for reason, status, words in (("", 422, "Nothing was typed here"), (WHY, 409, "g lies outside")):
        refused = client.post(address.split("#")[0], typed | {"mass-reason": reason})
        assert refused.status_code == status
        again = refused.content.decode()
        assert words in again[again.index('id="mass"') :]
        assert 'value="3450"' in again, "as typed, not as proposed"
        assert "33.04 g" in again, "what was proposed stands beside it still"
    assert not MassCorrection.objects.exists()


@pytest.mark.parametrize(
    ("slots", "part", "slot_s"),
    [((0, 1, 2, 3), "everything", None), ((2, 3), "from on", 5400), ((1,), "alone", 60)],
)
def test_an_exchange_comes_filled_in_with_both_readings_at_each_time(
    under_review: Any,
    qa_officer: Any,
    as_person: Any,
    slots: tuple[int, ...],
    part: str,
    slot_s: int | None,
) -> None:
    batch, key = under_review(Remedy.EXCHANGE, ONE, OTHER, slots=slots, odds=40.0)
    page = page_of(as_person(qa_officer), batch, key)
    first, second = (batch.sample_runs.get(portion__sample__lab_number=label) for label in (ONE, OTHER))
    asked = page.context["exchange_form"].initial
    assert (asked["first"], asked["second"], asked["part"]) == (first.pk, second.pk, part)
    assert asked.get("slot_s") == slot_s
    head, *rows = proposed_rows(page.content.decode())
    assert head[1:] == [f"{run.cylinder.serial}: {run.title}" for run in (first, second)]
    loam = [f"{float(value):g}" for value in factories.LOAM_G_L.values()]
    assert [row[1] for row in rows] == [f"{loam[k]} → {loam[k]}" for k in slots]


def test_readings_to_leave_out_come_marked_with_their_values(
    under_review: Any, qa_officer: Any, as_person: Any
) -> None:
    batch, key = under_review(Remedy.LEAVE_OUT, OTHER, slots=(1,))
    page = page_of(as_person(qa_officer), batch, key)
    run = batch.sample_runs.get(portion__sample__lab_number=OTHER)
    assert page.context["leave_out_form"].initial == {"run": run.pk, "slots_s": [60]}
    assert proposed_rows(page.content.decode())[1:] == [["60 s", "23.5", "left out"]]


def test_of_a_blank_that_moved_its_later_readings_come_marked(
    under_review: Any, qa_officer: Any, as_person: Any
) -> None:
    batch, key = under_review(Remedy.BLANK, ONE, OTHER, slots=(3,), step_g_l=1.5)
    page = page_of(as_person(qa_officer), batch, key)
    assert page.context["leave_out_form"].initial == {"run": batch.blank.pk, "slots_s": [86400]}
    assert proposed_rows(page.content.decode())[1:] == [["24 h", "4.5", "left out"]]


def test_what_no_form_puts_right_is_said(under_review: Any, qa_officer: Any, as_person: Any) -> None:
    batch, key = under_review(Remedy.AGAIN, ONE)
    client = as_person(qa_officer)
    assert "No form here puts that right" in page_of(client, batch, key).content.decode()
    assert "not found any more" in page_of(client, batch, "0" * 16).content.decode()
    for name in ("exchange_form", "leave_out_form", "mass_form"):
        assert page_of(client, batch, key).context[name].initial == {}


@pytest.mark.browser
@pytest.mark.parametrize("size", [(390, 844), (820, 1180), (1440, 900)], ids=["phone", "tablet", "desk"])
def test_a_refusal_is_in_sight_at_its_form(
    under_review: Any,
    qa_officer: Any,
    live_server: Any,
    require: Callable[[str, bool], None],
    monkeypatch: pytest.MonkeyPatch,
    size: tuple[int, int],
) -> None:
    require("browser", CHROMIUM.exists())
    batch, key = under_review(Remedy.MASS, ONE, mass_g=33.04)
    with page_as(qa_officer, live_server.url, size, monkeypatch, is_fault=lambda said: False) as page:
        page.goto(f"/review/{batch.number}/put-right/?cause={key}#proposed")
        page.fill("[name=mass-mass_g]", "3304")
        page.fill("[name=mass-reason]", WHY)
        page.click("text=Put the mass right")
        refusal = page.locator("#mass .flag-stop")
        refusal.wait_for()
        box = refusal.bounding_box()
        assert 0 <= box["y"] < size[1] - box["height"], "in sight without scrolling"
        assert page.input_value("[name=mass-reason]") == WHY
        assert page.input_value("[name=mass-mass_g]") == "3304"
        wider = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(wider) == 0
