"""Accept, hold and refuse."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

pytestmark = pytest.mark.django_db


def act(browser: Any, name: str, sample: Any, **typed: str) -> Any:
    answer = browser.post(reverse(f"particles:sample_{name}", args=[sample.lab_number]), typed)
    sample.refresh_from_db()
    return answer


@pytest.fixture
def sample(the_job: Any) -> Any:
    return the_job.samples.first()


def test_a_bag_is_accepted_with_its_person(at: Any, clerk: Any, sample: Any) -> None:
    answer = act(at(clerk), "accept", sample)
    assert answer["Location"] == reverse("particles:job", args=[sample.job.number])
    assert sample.state == "accepted"
    assert sample.moves.get().by == clerk


def test_accepting_twice_is_refused_and_recorded_once(at: Any, clerk: Any, sample: Any) -> None:
    act(at(clerk), "accept", sample)
    again = act(at(clerk), "accept", sample)
    assert again.status_code == 409
    assert "cannot become" in again.content.decode()
    assert sample.moves.count() == 1


def test_a_hold_needs_why_and_whose_move(at: Any, clerk: Any, sample: Any) -> None:
    answer = act(at(clerk), "hold", sample, reason="", waits_for="")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Type what is unclear." in page
    assert "Say whose move it is." in page
    assert sample.state == "arrived"


def test_a_hold_keeps_what_was_typed_when_refused(at: Any, clerk: Any, sample: Any) -> None:
    page = act(at(clerk), "hold", sample, reason="Torn bag", waits_for="").content.decode()
    assert 'value="Torn bag"' in page


def test_a_held_bag_is_accepted_only_with_an_answer(at: Any, clerk: Any, sample: Any) -> None:
    act(at(clerk), "hold", sample, reason="Torn bag", waits_for="client")
    assert (sample.state, sample.hold_waits_for) == ("on hold", "client")
    assert act(at(clerk), "accept", sample).status_code == 422
    assert sample.state == "on hold"
    act(at(clerk), "accept", sample, reason="Client says go on, phone note 4.")
    assert sample.state == "accepted"
    assert sample.moves.last().reason == "Client says go on, phone note 4."


def test_a_refusal_needs_a_reason_and_stands_apart(at: Any, clerk: Any, sample: Any) -> None:
    page = at(clerk).get(reverse("particles:sample_hold", args=[sample.lab_number])).content.decode()
    assert '<details class="apart">' in page
    answer = act(at(clerk), "refuse", sample, reason=" ")
    assert answer.status_code == 422
    assert '<details class="apart" open>' in answer.content.decode()
    act(at(clerk), "refuse", sample, reason="Glass in the bag; kept for collection.")
    assert sample.state == "refused"


def test_regulated_soil_cannot_be_accepted_whatever_the_reason(
    at: Any, clerk: Any, sample: Any, regulated_area: Any
) -> None:
    type(sample).objects.filter(pk=sample.pk).update(origin_country="KARSTLAND")
    answer = act(at(clerk), "accept", sample, reason="Same as last time.")
    assert answer.status_code == 409
    assert "no permit is on record" in answer.content.decode()
    assert sample.state == "arrived"


def test_all_that_arrived_are_accepted_at_once_except_holds_and_regulated(
    at: Any, clerk: Any, the_job: Any, regulated_area: Any
) -> None:
    first, second, third = the_job.samples.all()
    second.hold(reason="Torn bag", waits_for="client", by=clerk, at=timezone.now())
    type(third).objects.filter(pk=third.pk).update(origin_country="Karstland")
    answer = at(clerk).post(reverse("particles:job_accept", args=[the_job.number]), follow=True)
    assert "Accepted and sent to preparation: 1 of this job." in answer.content.decode()
    states = dict(the_job.samples.values_list("pk", "state"))
    assert states == {first.pk: "accepted", second.pk: "on hold", third.pk: "arrived"}


def test_accepting_all_twice_says_so_and_moves_nothing(at: Any, clerk: Any, the_job: Any) -> None:
    address = reverse("particles:job_accept", args=[the_job.number])
    at(clerk).post(address)
    again = at(clerk).post(address, follow=True)
    assert "No sample of this job was waiting" in again.content.decode()
    assert [sample.moves.count() for sample in the_job.samples.all()] == [1, 1, 1]
