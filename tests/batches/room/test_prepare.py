from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from batches.models import Entry
from particles.models import Preparation
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

TYPED = {
    "drying_temperature_c": "38",
    "drying_hours": "48",
    "crushing": "by hand",
    "fine_earth_g": "412.5",
    "gravel_g": "0",
}


@pytest.fixture
def sample(the_job: Any, clerk: Any) -> Any:
    sample = the_job.samples.first()
    sample.accept(by=clerk, at=timezone.now())
    return sample


def named(typed: dict[str, str]) -> dict[str, str]:
    """As a page that was opened for it sends it."""
    return {"entry_id": str(uuid4())} | typed


def send(browser: Any, sample: Any, **typed: str) -> Any:
    answer = browser.post(reverse("batches:prepare", args=[sample.lab_number]), named(TYPED | typed))
    sample.refresh_from_db()
    return answer


def test_what_was_weighed_is_kept_and_the_pretreatment_comes_next(
    as_person: Any, technician: Any, sample: Any
) -> None:
    answer = send(as_person(technician), sample, gravel_g="37.5")
    assert answer["Location"] == reverse("batches:pretreatment", args=[sample.lab_number])
    kept = sample.preparation
    assert (kept.fine_earth_g, kept.gravel_g, kept.by) == (Decimal("412.5"), Decimal("37.5"), technician)
    assert sample.state == "prepared"


def test_no_gravel_is_typed_as_zero_and_never_assumed(as_person: Any, technician: Any, sample: Any) -> None:
    answer = send(as_person(technician), sample, gravel_g="")
    assert answer.status_code == 422
    assert "type 0 only if it was 0" in answer.content.decode()
    assert 'value="412.5"' in answer.content.decode()
    assert sample.state == "accepted"
    send(as_person(technician), sample, gravel_g="0")
    assert sample.preparation.gravel_g == 0


@pytest.mark.parametrize(
    "wrong",
    [
        {"gravel_g": "-1"},
        {"fine_earth_g": "0"},
        {"fine_earth_g": "412,5"},
        {"crushing": ""},
        {"drying_temperature_c": "400"},
        {"drying_hours": ""},
    ],
)
def test_what_cannot_be_true_is_refused_and_kept_only_as_typed(
    as_person: Any, technician: Any, sample: Any, wrong: Any
) -> None:
    assert send(as_person(technician), sample, **wrong).status_code == 422
    assert sample.state == "accepted"
    assert not Preparation.objects.exists()
    entry = Entry.objects.get(kind="preparation")
    ((name, value),) = wrong.items()
    assert (entry.content[name], entry.verdict.outcome) == (value, "refused")
    assert entry.verdict.sentence


def test_the_same_form_sent_twice_is_one_preparation(as_person: Any, technician: Any, sample: Any) -> None:
    typed = {"entry_id": str(uuid4())}
    for _ in range(2):
        answer = send(as_person(technician), sample, **typed)
        assert answer["Location"] == reverse("batches:pretreatment", args=[sample.lab_number])
    assert Preparation.objects.get().entry_name == Entry.objects.get(kind="preparation").entry_id


def test_sending_it_twice_keeps_one_preparation(as_person: Any, technician: Any, sample: Any) -> None:
    send(as_person(technician), sample)
    again = send(as_person(technician), sample, fine_earth_g="300")
    assert again.status_code == 409
    assert 'value="300"' in again.content.decode()
    assert Preparation.objects.get().fine_earth_g == Decimal("412.5")


def test_a_bag_that_is_not_accepted_is_not_prepared(as_person: Any, technician: Any, the_job: Any) -> None:
    arrived = the_job.samples.last()
    assert as_person(technician).get(reverse("batches:prepare", args=[arrived.lab_number])).status_code == 409
    assert send(as_person(technician), arrived).status_code == 409
    assert not Preparation.objects.exists()


def test_regulated_soil_is_not_opened(
    as_person: Any, technician: Any, sample: Any, regulated_area: Any
) -> None:
    type(sample).objects.filter(pk=sample.pk).update(origin_country="Karstland")
    answer = send(as_person(technician), sample)
    assert answer.status_code == 409
    assert "must not be opened" in answer.content.decode()
    assert sample.state == "accepted"


def test_more_soil_than_came_is_kept_with_a_warning(as_person: Any, technician: Any, sample: Any) -> None:
    type(sample).objects.filter(pk=sample.pk).update(received_mass_g="400")
    answer = as_person(technician).post(
        reverse("batches:prepare", args=[sample.lab_number]), named(TYPED), follow=True
    )
    assert "412.5 g after drying is more than the 400.0 g received" in answer.content.decode()
    assert Preparation.objects.get().fine_earth_g == Decimal("412.5")


def test_the_database_refuses_negative_gravel(technician: Any, sample: Any) -> None:
    weighed = {"drying_temperature_c": 38, "drying_hours": 48, "fine_earth_g": 400, "gravel_g": -1}
    with pytest.raises(IntegrityError, match="gravel_not_negative"), transaction.atomic():
        sample.preparations.create(by=technician, at=timezone.now(), **weighed)


def test_the_worklist_sorts_by_what_comes_next(
    as_person: Any, technician: Any, clerk: Any, the_job: Any
) -> None:
    first, second, third = the_job.samples.all()
    factories.prepared(first, clerk)
    second.accept(by=clerk, at=timezone.now())
    third.accept(by=clerk, at=timezone.now())
    send(as_person(technician), second)
    answer = as_person(technician).get(reverse("batches:preparation"))
    lists = [[s.pk for s in answer.context[name]] for name in ("to_prepare", "to_decide", "to_weigh")]
    assert lists == [[third.pk], [second.pk], [first.pk]]
    assert reverse("batches:weigh", args=[first.lab_number]) in answer.content.decode()


def test_a_long_worklist_asks_no_more_often_than_a_short_one(
    as_person: Any, technician: Any, clerk: Any, the_client: Any, the_job: Any
) -> None:
    browser = as_person(technician)

    def questions() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert browser.get(reverse("batches:preparation")).status_code == 200
        return len(asked)

    def fill(job: Any) -> None:
        decided, accepted, undecided = job.samples.all()
        factories.prepared(decided, clerk)
        for sample in (accepted, undecided):
            sample.accept(by=clerk, at=timezone.now())
        send(browser, undecided)

    fill(the_job)
    few = questions()
    for _ in range(6):
        fill(factories.job(the_client, clerk, samples=3))
    assert questions() == few
