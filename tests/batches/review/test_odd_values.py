"""Odd values are kept, said where they were typed, and said again to the reviewer."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.models import Entry, Weighing
from batches.review import rules as approval
from particles.models import Portion
from tests.support import factories
from tests.support.reviewing import look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)

TIN = {"tin_g": "20.00", "tin_air_dry_g": "30.00", "tin_oven_dry_g": "29.80"}


@pytest.fixture
def weigh(prepared_sample: Any, technician: Any, bench: Any, as_person: Any) -> Any:
    """Type masses of the open portion; returns the page that follows."""
    Portion.take(prepared_sample, by=technician, at=timezone.now())

    def send(**typed: str) -> Any:
        portion = prepared_sample.portions.get()
        fixed = {"entry_id": str(uuid4()), "portion": portion.code, "balance": bench.balance.pk}
        place = f"/samples/{prepared_sample.lab_number}/weigh/"
        return as_person(technician).post(place, fixed | typed, follow=True)

    return send


def codes(answer: Any) -> set[str]:
    return {finding.code for finding in answer.context["odd"]}


@pytest.mark.parametrize(
    ("typed", "code", "words"),
    [
        ({"portion_g": "14.00"}, "portion_too_light", "53 % lighter than the 30 g advised for a clay loam"),
        ({"portion_g": "100.00"}, "portion_too_heavy", "advised for a clay loam"),
        (TIN | {"tin_oven_dry_g": "28.00"}, "moisture_unusual", "Air-dry moisture is 25.00 %"),
        (TIN | {"tin_oven_dry_g": "30.00"}, "moisture_unusual", "Air-dry moisture is 0.00 %"),
    ],
)
def test_an_odd_mass_is_kept_and_said_at_the_balance(
    weigh: Any, typed: dict[str, str], code: str, words: str
) -> None:
    answer = weigh(**typed)
    assert answer.status_code == 200
    assert codes(answer) == {code}
    assert words in answer.content.decode()
    assert Weighing.objects.count() == len(typed)


def test_a_mass_between_two_good_ones_is_good_though_far_from_either(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    """A sandy loam may weigh 60, 80 or 100 g: 69 g is 15 % from the nearest of them."""
    sample = factories.prepared(
        factories.job(the_client, clerk).samples.get(), technician, field_texture="sandy loam"
    )
    factories.portion(sample, technician, bench, portion_g="69.00")
    answer = as_person(technician).get(f"/samples/{sample.lab_number}/weigh/")
    assert codes(answer) == set()
    predicted = answer.context["advice"].predicted
    assert [c.mass_g for c in predicted.candidates if c.within_targets] == [60, 80, 100]
    assert answer.content.decode().count("good too") == 2


def test_what_is_said_of_a_mass_beside_the_table_names_what_the_table_says_to_weigh(weigh: Any) -> None:
    answer = weigh(portion_g="100.00")
    (finding,) = answer.context["odd"]
    best_g = answer.context["advice"].predicted.recommended.mass_g
    assert "67 % heavier than the 60 g advised" in finding.sentence
    assert finding.next_step.endswith(f"Good here are 30 to 60 g, best {best_g:g} g.")
    assert f"{best_g:g} <span" in answer.content.decode()


def test_a_usual_portion_says_nothing(weigh: Any) -> None:
    assert codes(weigh(portion_g="30.40", **TIN)) == set()
    assert "Kept, but odd" not in weigh(portion_g="30.40", reason="Again.").content.decode()


def test_nothing_is_said_before_a_mass_is_typed(weigh: Any, technician: Any, as_person: Any) -> None:
    sample = Portion.objects.get().sample
    page = as_person(technician).get(f"/samples/{sample.lab_number}/weigh/").content.decode()
    assert "Kept, but odd" not in page


def test_a_corrected_mass_is_no_longer_odd(weigh: Any) -> None:
    weigh(portion_g="14.00")
    assert codes(weigh(portion_g="40.00", reason="Misread.")) == set()
    assert Weighing.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"portion_g": "40012"}, "it may be 40.012 g: weigh and type it again"),
        ({"portion_g": "0.040"}, "it may be 40 g: weigh and type it again"),
        ({"portion_g": "4.00"}, "slipped decimal point"),
        ({"portion_g": "287.41"}, "Was the tare taken off?"),
        ({"pretreated_g": "287.41"}, "Was the tare taken off?"),
        (TIN | {"tin_oven_dry_g": "30.20"}, "weighs more dry"),
    ],
)
def test_what_cannot_be_is_refused_and_kept_as_typed(weigh: Any, typed: dict[str, str], words: str) -> None:
    answer = weigh(**typed)
    assert answer.status_code == 409
    assert words in answer.content.decode()
    assert not Weighing.objects.exists()
    assert words in Entry.objects.get(kind="weighing").verdict.sentence


def test_heavier_after_pretreatment_is_odd(
    the_client: Any, clerk: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    job = factories.job(the_client, clerk)
    sample = factories.prepared(job.samples.get(), technician, remove_organic_matter=True)
    factories.portion(sample, technician, bench, portion_g="40.00", pretreated_g="43.10")
    answer = as_person(technician).get(f"/samples/{sample.lab_number}/weigh/")
    assert codes(answer) == {"heavier_after_pretreatment"}


def test_the_reviewer_sees_what_was_odd(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, as_person: Any
) -> None:
    now = timezone.now()
    job = factories.job(the_client, clerk, at=now - timedelta(days=5))
    sample = job.samples.get()
    type(sample).objects.filter(pk=sample.pk).update(received_mass_g="400")
    sample.refresh_from_db()
    factories.prepared(sample, technician, field_texture="clay loam", at=now - timedelta(days=5))
    portion = factories.portion(sample, technician, bench, portion_g="100.00", **TIN)
    batch = factories.batch([portion], technician, bench, at=now - timedelta(days=3))
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert "The portion weighs 100.00 g" in shown
    assert "412.5 g after drying is more than the 400.0 g received" in shown


def test_a_large_review_asks_no_more_often_than_a_small_one(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, as_person: Any
) -> None:
    now = timezone.now()
    browser = as_person(qa_officer)

    def questions(samples: int) -> int:
        job = factories.job(the_client, clerk, at=now - timedelta(days=5), samples=samples)
        portions = [
            factories.portion(
                factories.prepared(s, technician, field_texture="clay", at=now - timedelta(days=5)),
                technician,
                bench,
                portion_g="90.00",
                **TIN,
            )
            for s in job.samples.all()
        ]
        batch = factories.batch(portions, technician, bench, at=now - timedelta(days=3))
        with CaptureQueriesContext(connection) as asked:
            answer = browser.get(f"/review/{batch.number}/")
        assert len(answer.context["odd"]) == samples
        batch.abort(by=technician, at=now, reason="only looked at")
        return len(asked)

    assert questions(1) == questions(5)


def test_what_the_result_flags_is_not_said_twice_to_the_reviewer(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, as_person: Any, work_off: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    portion = batch.sample_runs.get().portion
    damp = {"tin_oven_dry_g": "28.00", "reason": "Weighed again."}
    factories.stored("weighing", technician, portion=portion.pk, balance=bench.balance.pk, **damp)
    before = as_person(qa_officer).get(f"/review/{batch.number}/")
    assert before.content.decode().count("Air-dry moisture is 25.00 %") == 1
    work_off()
    approval.submit(batch, by=technician, at=timezone.now())
    look_at_quality(batch, qa_officer)
    after = as_person(qa_officer).get(f"/review/{batch.number}/")
    told = [row for row in after.context["causes"] if "Air-dry moisture is 25.00 %" in row.cause.sentence]
    assert len(told) == 1
    assert after.context["odd"] == []


@pytest.mark.parametrize(
    ("received_g", "typed", "code", "words"),
    [
        ("400", {}, "more_than_received", "more than the 400.0 g received"),
        ("900", {}, "less_than_received", "less than half of the 900.0 g received"),
        ("500", {"drying_temperature_c": "60"}, "dried_hot", "Dried at 60.0 °C, above 40 °C"),
    ],
)
def test_an_odd_preparation_is_kept_and_said(
    the_job: Any,
    clerk: Any,
    technician: Any,
    as_person: Any,
    received_g: str,
    typed: dict[str, str],
    code: str,
    words: str,
) -> None:
    sample = the_job.samples.first()
    type(sample).objects.filter(pk=sample.pk).update(received_mass_g=received_g)
    sample.refresh_from_db()
    sample.accept(by=clerk, at=timezone.now())
    usual = {"drying_temperature_c": "38", "drying_hours": "48", "crushing": "by hand"}
    sent = {"entry_id": str(uuid4()), "fine_earth_g": "412.5", "gravel_g": "0"} | usual | typed
    place = f"/samples/{sample.lab_number}/prepare/"
    assert words in as_person(technician).post(place, sent, follow=True).content.decode()
    later = as_person(technician).get(place)
    assert words in later.content.decode(), "still said later"
    assert codes(later) == {code}
    assert sample.preparations.count() == 1
