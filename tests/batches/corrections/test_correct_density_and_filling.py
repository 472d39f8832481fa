"""A wrong particle density, mixing time or soak note is superseded with who, when and why."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from batches.corrections.models import density_in_force, filling_in_force
from batches.corrections.rules import correct_density, correct_filling
from batches.entries.door import receive
from batches.models import Batch, ComputationRequest, DensityCorrection, Entry, FillingCorrection
from batches.planning.rules import start_soak
from batches.review import rules as approval
from batches.review.rules import fresh_result
from particles.models import Portion
from particles.records.refusals import NotPossible, NotThisPerson
from tests.conftest import SECRET
from tests.support import factories
from tests.support.at_once import together
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "The density of the next bag was typed."


@pytest.fixture
def portion(measured: Batch) -> Portion:
    found = measured.sample_runs.get().portion
    assert found is not None
    return found


def density(of: Portion, **typed: Any) -> dict[str, str]:
    return {
        "entry_id": str(uuid4()),
        "attempt": str(of.attempt),
        "seen": "",
        "density": "measured",
        "particle_density_g_cm3": "2.71",
        "reason": WHY,
    } | typed


def filling(**typed: Any) -> dict[str, str]:
    return {
        "entry_id": str(uuid4()),
        "seen": "",
        "mixing_minutes": "8",
        "soak_note": "",
        "reason": "Misread.",
    } | typed


def approve(batch: Batch, technician: Any, qa_officer: Any) -> None:
    words = "The density stands as the pycnometer showed it."
    approval.submit(batch, by=technician, at=timezone.now(), note=words)
    settle(batch, qa_officer)
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)


def test_both_densities_stay_the_last_counts_and_the_result_is_asked_for_again(
    measured: Batch,
    portion: Portion,
    technician: Any,
    qa_officer: Any,
    as_person: Any,
    work_off: Callable[[], int],
) -> None:
    run, browser = measured.sample_runs.get(), as_person(technician)
    before = fresh_result(run)
    assert before is not None
    address = f"/samples/{portion.sample.lab_number}/density/"
    assert browser.post(address, density(portion)).status_code == 302
    kept = DensityCorrection.objects.get()
    assert (kept.reason, kept.by, kept.supersedes) == (WHY, technician, None)
    portion.refresh_from_db()
    assert portion.particle_density_g_cm3 == Decimal("2.650"), "what was typed first stays"
    assert fresh_result(run) is None
    assert ComputationRequest.objects.filter(run=run, state="asked").count() == 1
    assert work_off() == 1
    after = fresh_result(run)
    assert after is not None
    assert after.inputs["particle_density_g_cm3"] == 2.71
    assert after.inputs["particle_density_measured"] is True
    assert after.figures["fractions"] != before.figures["fractions"]
    shown = browser.get(f"/samples/{portion.sample.lab_number}/weigh/").content.decode()
    assert "When the portion was opened: 2.650 g/cm³, assumed." in shown
    assert WHY in shown
    assert "2.710 g/cm³, measured" in as_person(qa_officer).get(f"/runs/{run.pk}/").content.decode()


def test_a_duplicate_follows_its_first_portion(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any, work_off: Any
) -> None:
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    work_off()
    first, second = batch.sample_runs.order_by("portion_id")
    assert first.portion is not None
    assert second.portion is not None
    address = f"/samples/{first.sample.lab_number}/density/"
    for portion in (first.portion, second.portion):
        page = as_person(technician).get(f"/portions/{portion.code}/weigh/").content.decode()
        assert "density" not in page, "it is that of the bag, and would tell two portions of one"
    page = as_person(technician).get(f"/samples/{first.sample.lab_number}/weigh/").content.decode()
    assert "Correct the density" in page
    assert 'name="attempt" value="1"' in page
    content = density(first.portion, sample=str(first.sample.pk), portion=str(second.portion_id))
    del content["entry_id"]
    refused = factories.send("particle density", technician, **content)
    assert (refused.stored, DensityCorrection.objects.count()) == (False, 0)
    assert as_person(technician).post(address, density(first.portion)).status_code == 302
    assert density_in_force(second.portion) == DensityCorrection.objects.get()
    assert work_off() == 2
    for run in (first, second):
        result = fresh_result(run)
        assert result is not None
        assert result.inputs["particle_density_g_cm3"] == 2.71


@pytest.mark.parametrize(
    ("typed", "status", "words"),
    [
        ({"reason": ""}, 422, "Nothing was typed here."),
        ({"particle_density_g_cm3": "27.1"}, 422, "lies outside 1.5 to 5"),
        (
            {"density": "assumed", "particle_density_g_cm3": ""},
            409,
            "on record already: 2.650 g/cm³, assumed",
        ),
    ],
)
def test_a_refused_density_is_kept_as_typed(
    portion: Portion, technician: Any, as_person: Any, typed: dict[str, str], status: int, words: str
) -> None:
    address = f"/samples/{portion.sample.lab_number}/density/"
    answer = as_person(technician).post(address, density(portion, **typed))
    assert answer.status_code == status
    assert words in answer.content.decode()
    assert not DensityCorrection.objects.exists()
    assert words in Entry.objects.get(kind="particle density").verdict.sentence


GLASSY = {"particle_density_g_cm3": "2.105"}
"""Invented: 20 g take the place of 9.485 g of water at 20 C."""
WEIGHED = {
    "pycnometer_soil_g": "20.0000",
    "pycnometer_water_g": "150.0000",
    "pycnometer_full_g": "160.5156",
    "pycnometer_water_c": "20.0",
}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (GLASSY, "lies outside 2.2 to 3.2, where soils lie"),
        ({"particle_density_g_cm3": "3.3"}, "lies outside 2.2 to 3.2, where soils lie"),
        (GLASSY | {"pycnometer_soil_g": "20"}, "Type all four figures of the pycnometer, or none."),
        (GLASSY | WEIGHED | {"pycnometer_full_g": "162.0"}, "give 2.496 g/cm³, not 2.105"),
        (GLASSY | WEIGHED | {"pycnometer_full_g": "171.0"}, "give no density"),
    ],
)
def test_bench_fault_93_a_density_no_soil_has_needs_the_record_of_its_measurement(
    portion: Portion, technician: Any, as_person: Any, typed: dict[str, str], words: str
) -> None:
    """Bench fault 93."""
    address = f"/samples/{portion.sample.lab_number}/density/"
    answer = as_person(technician).post(address, density(portion, **typed))
    assert answer.status_code == 422
    shown = answer.content.decode().replace("&#x27;", "'")
    assert words in shown
    assert not DensityCorrection.objects.exists()
    assert f'value="{typed["particle_density_g_cm3"]}"' in shown, "what was typed stays in its box"


@pytest.mark.parametrize("record", [WEIGHED, {"density_document": "certificate 114 of the glass laboratory"}])
def test_bench_fault_93_with_its_record_it_is_believed_and_goes_into_the_figures(
    measured: Batch,
    portion: Portion,
    technician: Any,
    as_person: Any,
    work_off: Callable[[], int],
    record: dict[str, str],
) -> None:
    """Bench fault 93."""
    address = f"/samples/{portion.sample.lab_number}/density/"
    answer = as_person(technician).post(address, density(portion, **GLASSY, **record))
    assert answer.status_code == 302
    work_off()
    result = fresh_result(measured.sample_runs.get())
    assert result is not None
    assert result.inputs["particle_density_g_cm3"] == 2.105
    codes = {flag.code for flag in result.flags.all()}
    assert "density_unusual" in codes
    assert not codes & {"density_without_record", "density_apart"}
    kept = DensityCorrection.objects.get()
    assert kept.in_words.startswith("2.105 g/cm³, measured")
    assert ("by pycnometer" if record is WEIGHED else "certificate 114") in kept.in_words


def test_the_rule_refuses_such_a_density_whoever_asks(portion: Portion, technician: Any) -> None:
    with pytest.raises(NotPossible, match=r"outside 2.2 to 3.2"):
        correct_density(
            portion,
            seen=None,
            reason=WHY,
            entry=None,
            by=technician,
            at=timezone.now(),
            particle_density_g_cm3=Decimal("2.105"),
            particle_density_measured=True,
        )
    with pytest.raises(NotPossible, match=r"outside 2.2 to 3.2"):
        Portion.take(
            portion.sample,
            by=technician,
            at=timezone.now(),
            particle_density_g_cm3=Decimal("3.300"),
            particle_density_measured=True,
        )


def test_of_two_at_once_one_is_kept_and_the_other_told(portion: Portion, technician: Any) -> None:
    def send(value: str) -> Any:
        content = density(
            portion, particle_density_g_cm3=value, sample=str(portion.sample_id), portion=str(portion.pk)
        )
        del content["entry_id"]
        return receive(uuid4(), "particle density", content, by=technician, at=timezone.now())

    answers = together([lambda value=value: send(value) for value in ("2.60", "2.70", "2.80")])
    assert sorted(answer.stored for answer in answers) == [False, False, True]
    assert all("meanwhile" in answer.sentence for answer in answers if not answer.stored)


def test_the_next_one_supersedes_the_last_and_the_reviewer_sees_all(
    measured: Batch, portion: Portion, technician: Any, qa_officer: Any, as_person: Any, work_off: Any
) -> None:
    browser, address = as_person(technician), f"/samples/{portion.sample.lab_number}/density/"
    browser.post(address, density(portion))
    first = DensityCorrection.objects.get()
    again = density(
        portion, particle_density_g_cm3="2.68", reason="Pycnometer read again.", seen=str(first.pk)
    )
    assert browser.post(address, again).status_code == 302
    assert browser.post(f"/batches/{measured.number}/filling/", filling()).status_code == 302
    assert DensityCorrection.objects.latest("pk").supersedes == first
    work_off()
    approval.submit(measured, by=technician, at=timezone.now())
    shown = as_person(qa_officer).get(f"/review/{measured.number}/").content.decode()
    for words in (
        "2.650 g/cm³, assumed",
        "2.710 g/cm³, measured",
        "2.680 g/cm³, measured",
        "Pycnometer read again.",
    ):
        assert words in shown
    assert "5.0 min on the mixer" in shown
    assert "8.0 min on the mixer" in shown


def test_filling_is_corrected_and_no_figure_is_touched(
    measured: Batch, technician: Any, as_person: Any
) -> None:
    before = fresh_result(measured.sample_runs.get())
    client, address = as_person(technician), f"/batches/{measured.number}/filling/"
    assert 'value="5.0"' in client.get(f"/batches/{measured.number}/").content.decode()
    assert client.post(address, filling(mixing_minutes="300")).status_code == 422
    assert client.post(address, filling(mixing_minutes="5")).status_code == 409
    assert client.post(address, filling(reason="")).status_code == 422
    assert not FillingCorrection.objects.exists()
    assert client.post(address, filling()).status_code == 302
    measured.refresh_from_db()
    assert (measured.mixing_minutes, filling_in_force(measured).mixing_minutes) == (5, 8)
    assert fresh_result(measured.sample_runs.get()) == before
    shown = client.get(f"/batches/{measured.number}/").content.decode()
    assert "8 min on the mixer" in shown
    assert "Misread." in shown
    stale = client.post(address, filling(mixing_minutes="9"))
    assert (stale.status_code, "meanwhile" in stale.content.decode()) == (409, True)


def test_a_soak_note_is_corrected_and_a_short_soak_keeps_one(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    now = timezone.now()
    sample = factories.prepared(factories.job(the_client, clerk, at=now).samples.get(), technician, at=now)
    portions = [factories.portion(sample, technician, bench)]
    batch = factories.batch(portions, technician, bench, at=now - timedelta(days=1), filled=False)
    start_soak(batch, by=technician, at=now - timedelta(hours=5))
    batch.disperse(by=technician, at=now, mixing_minutes=5, soak_note="Urgnt job.")
    client, address = as_person(technician), f"/batches/{batch.number}/filling/"
    missing = client.post(address, filling(mixing_minutes="5"))
    assert (missing.status_code, "say why it was cut short" in missing.content.decode()) == (409, True)
    assert client.post(address, filling(mixing_minutes="5", soak_note="Urgent job.")).status_code == 302
    assert filling_in_force(batch).soak_note == "Urgent job."


def test_nothing_is_corrected_under_review_or_afterwards_and_the_database_agrees(
    measured: Batch, portion: Portion, technician: Any, qa_officer: Any, as_person: Any
) -> None:
    client = as_person(technician)
    at_density, at_filling = (
        f"/samples/{portion.sample.lab_number}/density/",
        f"/batches/{measured.number}/filling/",
    )

    def tried() -> list[int]:
        return [
            client.post(at_density, density(portion)).status_code,
            client.post(at_filling, filling()).status_code,
        ]

    approval.submit(measured, by=technician, at=timezone.now())
    assert tried() == [409, 409]
    approval.return_to_bench(measured, by=qa_officer, at=timezone.now(), reason="Look at the density.")
    measured.refresh_from_db()
    approve(measured, technician, qa_officer)
    assert tried() == [409, 409]
    entry = Entry.keep(uuid4(), "x", {}, by=technician, at=timezone.now())
    by = (entry.pk, technician.pk)
    for statement, values in (
        (
            "densitycorrection (portion_id, particle_density_g_cm3, particle_density_measured",
            (portion.pk, 2.7, True),
        ),
        ("fillingcorrection (batch_id, mixing_minutes, soak_note", (measured.pk, 5, "")),
    ):
        sql = f"INSERT INTO batches_{statement}, reason, entry_id, by_id, at) VALUES (%s, %s, %s, 'x', %s, %s, now())"
        with pytest.raises(DatabaseError, match="the batch is closed"), transaction.atomic():
            connection.cursor().execute(sql, [*values, *by])


def test_whoever_corrects_does_not_approve(measured: Batch, portion: Portion, qa_officer: Any) -> None:
    entry = Entry.keep(uuid4(), "x", {}, by=qa_officer, at=timezone.now())
    correct_filling(
        measured,
        mixing_minutes=Decimal(7),
        soak_note="",
        seen=None,
        reason="Misread.",
        entry=entry,
        by=qa_officer,
        at=timezone.now(),
    )
    with pytest.raises(NotThisPerson):
        measured.require_other_person(qa_officer)


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "manager", "custodian", "client_person"])
def test_who_may_not(
    measured: Batch, portion: Portion, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.post(f"/samples/{portion.sample.lab_number}/density/", density(portion)).status_code == 403
    assert client.post(f"/batches/{measured.number}/filling/", filling()).status_code == 403
    assert not DensityCorrection.objects.exists()
