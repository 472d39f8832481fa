"""A second portion of one sample in its batch: who chooses it, where it is seen, and that it is no other sample."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.computing.rules import work
from batches.models import Batch, ComputationRequest, Weighing
from batches.planning.rules import candidates, duplicates_due, start_soak, unweighed_chosen
from particles.models import Laboratory, MethodEditionRecord, Portion
from particles.records.refusals import NotPossible, WrongState
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def portions(the_client: Any, clerk: Any, technician: Any, bench: Any) -> list[Portion]:
    """Three weighed portions of one job."""
    now = timezone.now() - timedelta(days=4)
    job = factories.job(the_client, clerk, at=now, samples=3)
    return [
        factories.portion(factories.prepared(s, technician, at=now), technician, bench)
        for s in job.samples.all()
    ]


@pytest.fixture
def planned(portions: Any, technician: Any, bench: Any) -> Batch:
    at = timezone.now() - timedelta(days=3)
    return factories.batch_with_duplicates(portions, technician, bench, at=at, filled=False)


def _rate(samples: int) -> None:
    defaults = {"name": "Example", "address": "1 Lane", "contact": "-", "samples_per_duplicate": samples}
    Laboratory.objects.update_or_create(pk=1, defaults=defaults)


@pytest.mark.parametrize(
    ("rate", "samples", "due"),
    [(None, 1, 1), (None, 10, 1), (None, 11, 2), (None, 23, 3), (5, 11, 3), (0, 23, 0)],
)
def test_one_duplicate_for_each_ten_samples_begun_or_the_laboratorys_own_rate(
    bench: Any, rate: int | None, samples: int, due: int
) -> None:
    if rate is not None:
        _rate(rate)
    method = MethodEditionRecord.objects.get(code=factories.FOUR_READINGS)
    assert duplicates_due(samples, method) == due


def test_a_method_without_figures_at_size_limits_has_nothing_to_compare(bench: Any) -> None:
    assert duplicates_due(10, MethodEditionRecord.objects.get(code="two-reading-2026-1")) == 0


def test_the_program_draws_which_sample_and_which_place(planned: Batch) -> None:
    duplicate = planned.sample_runs.get(portion__duplicate_of__isnull=False)
    assert len(planned.reported_runs) == 3
    assert duplicate.title == f"{duplicate.sample.lab_number} duplicate"
    assert [run.position for run in planned.sample_runs.order_by("position")] == [1, 2, 3, 4]
    row = [run.cylinder.serial for run in planned.runs.order_by("position")]
    assert row == sorted(row), "the cylinders stand as they were chosen, whatever is in them"
    assert duplicate.portion is not None
    assert duplicate.portion.attempt == 1, "a duplicate is no repeat"
    assert duplicate.portion.reason == "duplicate by the laboratory's rule"


def test_a_sample_without_soil_for_a_second_portion_is_passed_over(
    portions: Any, technician: Any, bench: Any
) -> None:
    rich = portions[1].sample
    for portion in portions:
        if portion.sample != rich:
            factories.bag_of(portion.sample, 95, technician, at=portion.sample.preparation.at)
    made = factories.batch_with_duplicates(portions, technician, bench, at=timezone.now(), filled=False)
    assert made.sample_runs.get(portion__duplicate_of__isnull=False).sample == rich


def test_what_earlier_portions_took_is_no_longer_in_the_bag(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    """130 g hold two portions of 40 g with their tins, and the third that a duplicate of the second would be not."""
    now = timezone.now() - timedelta(days=4)
    sample = factories.prepared(factories.job(the_client, clerk, at=now).samples.get(), technician, at=now)
    factories.bag_of(sample, 130, technician, at=now)
    first = factories.portion(sample, technician, bench)
    batch = factories.batch([first], technician, bench, at=now, filled=False)
    assert candidates(batch) == [first]
    batch.abort(by=technician, at=now, reason="Power cut.")
    second = Portion.take(sample, by=technician, at=now, reason="Power cut.")
    masses = {"balance": bench.balance.pk, **factories.MASSES_G}
    factories.stored("weighing", technician, portion=second.pk, **masses)
    again = factories.batch([second], technician, bench, at=now, filled=False)
    assert candidates(again) == []


def test_no_soil_anywhere_makes_a_batch_without_and_the_review_says_so(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, as_person: Any
) -> None:
    at = timezone.now() - timedelta(days=4)
    sample = factories.prepared(factories.job(the_client, clerk, at=at).samples.get(), technician, at=at)
    factories.bag_of(sample, 60, technician, at=at)
    portion = factories.portion(sample, technician, bench)
    batch = factories.batch_with_duplicates([portion], technician, bench, at=at)
    assert not batch.sample_runs.filter(portion__duplicate_of__isnull=False).exists()
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert "The batch holds 0 duplicates; the laboratory&#x27;s rule asks for 1." in shown


def test_the_page_offers_a_cylinder_and_no_choice_of_the_sample(
    portions: Any, technician: Any, bench: Any, as_person: Any
) -> None:
    client = as_person(technician)
    shown = client.get("/batches/new/").content.decode()
    assert "of a bag the program chooses" in shown
    fields = {
        "method": portions[0].sample.job.method.pk,
        "lot": bench.lot.pk,
        "hydrometer": bench.hydrometer.pk,
        "thermometer": bench.thermometer.pk,
        "cylinder_blank": bench.cylinders[0].pk,
    }
    for place, portion in enumerate(portions, start=1):
        fields |= {f"take_{portion.pk}": "on", f"cylinder_portion_{portion.pk}": bench.cylinders[place].pk}
    missing = client.post("/batches/new/", fields)
    assert missing.status_code == 422
    assert "Choose a cylinder." in missing.content.decode()
    twice = client.post("/batches/new/", fields | {"cylinder_more_1": bench.cylinders[0].pk})
    assert "chosen twice" in twice.content.decode()
    assert not Batch.objects.exists()
    planned = client.post("/batches/new/", fields | {"cylinder_more_1": bench.cylinders[4].pk}, follow=True)
    number = unweighed_chosen(Batch.objects.get())[0].number
    assert f"Weigh {number} next, one more portion each, chosen by the program." in planned.content.decode()


def test_the_soak_waits_for_the_duplicates_mass(
    planned: Batch, technician: Any, bench: Any, as_person: Any
) -> None:
    with pytest.raises(NotPossible, match=r"Weigh it, then start the soak"):
        start_soak(planned, by=technician, at=timezone.now())
    (portion,) = unweighed_chosen(planned)
    client, address = as_person(technician), f"/portions/{portion.code}/weigh/"
    assert address in client.get("/weighing/").content.decode()
    shown = client.get(address).content.decode()
    assert f'name="portion" value="{portion.code}"' in shown
    typed = {"portion": portion.code, "balance": bench.balance.pk, **factories.MASSES_G}
    answer = client.post(address, typed | {"entry_id": "6b0f0c5e-6a54-4f0a-8a52-0f7f0d0d1a01"})
    assert (answer.status_code, answer["Location"]) == (302, address)
    assert Weighing.objects.filter(portion=portion).count() == 4
    start_soak(planned, by=technician, at=timezone.now())


def test_a_row_too_long_for_its_duplicates_is_not_planned_at_all(
    portions: Any, technician: Any, bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("batches.planning.rules.MOST_CYLINDERS", 4)
    with pytest.raises(NotPossible, match="leave a sample to the next batch"):
        factories.batch_with_duplicates(portions, technician, bench, at=timezone.now(), filled=False)
    assert not Batch.objects.exists()
    assert not Portion.objects.filter(duplicate_of__isnull=False).exists()


def test_a_planner_adds_more_with_a_reason(
    planned: Batch, technician: Any, bench: Any, as_person: Any
) -> None:
    client, address = as_person(technician), f"/batches/{planned.number}/portions/"
    cylinder = {"more-cylinder": bench.cylinders[5].pk}
    assert client.post(address, cylinder | {"more-reason": ""}).status_code == 422
    busy = {"more-cylinder": bench.cylinders[0].pk, "more-reason": "New mixer."}
    assert client.post(address, busy).status_code == 422
    assert client.post(address, cylinder | {"more-reason": "New mixer."}).status_code == 302
    both = planned.sample_runs.filter(portion__duplicate_of__isnull=False).order_by("portion_id")
    assert [run.portion.reason for run in both if run.portion][-1] == "New mixer."
    assert len({run.sample.pk for run in both}) == 2, "no sample gets two"


def test_none_is_added_once_the_soak_runs(
    planned: Batch, technician: Any, bench: Any, as_person: Any
) -> None:
    (portion,) = unweighed_chosen(planned)
    masses = {"balance": bench.balance.pk, **factories.MASSES_G}
    factories.stored("weighing", technician, portion=portion.pk, **masses)
    start_soak(planned, by=technician, at=timezone.now())
    typed = {"more-cylinder": bench.cylinders[5].pk, "more-reason": "Too late."}
    answer = as_person(technician).post(f"/batches/{planned.number}/portions/", typed)
    assert answer.status_code == 409
    assert "portions are added before the soak" in answer.content.decode()


@pytest.mark.parametrize("person", ["clerk", "qa_officer", "manager", "custodian", "client_person"])
def test_who_may_not_add_one(
    planned: Batch, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    client = as_person(request.getfixturevalue(person))
    assert client.post(f"/batches/{planned.number}/portions/", {}).status_code == 403
    assert planned.runs.count() == 5


def test_one_pair_only_and_only_of_one_bag(planned: Batch, portions: Any, technician: Any) -> None:
    now = timezone.now()
    duplicate = Portion.objects.get(duplicate_of__isnull=False)
    for portion in (duplicate, duplicate.duplicate_of):
        with pytest.raises(NotPossible, match="one of a pair already"):
            Portion.take_duplicate(portion, by=technician, at=now, reason="Again.")
    first, other = [p for p in portions if p != duplicate.duplicate_of]
    with pytest.raises(IntegrityError, match="a duplicate is a second portion"), transaction.atomic():
        Portion.objects.create(
            sample=other.sample,
            attempt=1,
            duplicate_of=first,
            reason="Wrong bag.",
            pretreatment=first.pretreatment,
            by=technician,
            at=now,
        )


def test_a_bag_still_to_be_opened_has_no_duplicate(portions: Any, technician: Any) -> None:
    portions[0].sample.transition("prepared", by=technician, at=timezone.now(), reason="spilt")
    with pytest.raises(WrongState, match="goes into the batch of its sample"):
        Portion.take_duplicate(portions[0], by=technician, at=timezone.now(), reason="Early.")


def test_giving_up_frees_each_sample_once_and_a_repeat_is_the_second_portion(
    planned: Batch, technician: Any
) -> None:
    planned.abort(by=technician, at=timezone.now(), reason="Power cut.")
    sample = planned.sample_runs.get(portion__duplicate_of__isnull=False).sample
    assert sample.state == "prepared"
    again = Portion.take(sample, by=technician, at=timezone.now(), reason="Power cut.")
    assert (again.attempt, sample.portion) == (2, again)


def test_a_sample_goes_on_with_its_first_portion_only(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    first, duplicate = batch.sample_runs.order_by("portion_id")
    asked = {request.run_id: request.pk for request in ComputationRequest.objects.all()}
    work(asked[duplicate.pk], at=timezone.now())
    sample = first.sample
    sample.refresh_from_db()
    assert (result_in_force(duplicate) is not None, sample.state) == (True, "in batch")
    work(asked[first.pk], at=timezone.now())
    sample.refresh_from_db()
    assert sample.state == "calculated"
