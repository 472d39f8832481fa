"""What a client supplied is put right, and what was before stays."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import ProgrammingError, transaction
from django.urls import reverse
from django.utils import timezone

from particles.corrections.models import CORRECTABLE
from particles.models import Correction
from tests.support import factories

pytestmark = pytest.mark.django_db


def _sample(sample: Any, **typed: str) -> dict[str, str]:
    held = {"client_label": sample.client_label, "depth_text": sample.depth_text, "sampled_on": ""}
    return held | {"reason": "Letter of 3 Nov 2026"} | typed


def _address(sample: Any) -> str:
    return reverse("particles:correct_sample", args=[sample.lab_number])


def test_a_label_and_a_depth_are_corrected_and_both_stay_on_record(at: Any, clerk: Any, the_job: Any) -> None:
    sample = the_job.samples.first()
    answer = at(clerk).post(_address(sample), _sample(sample, client_label="Field 1b", depth_text="0-30 cm"))
    assert answer.url == reverse("particles:job", args=[the_job.number])
    sample.refresh_from_db()
    assert (sample.client_label, sample.depth_text) == ("Field 1b", "0-30 cm")
    kept = [(each.fact, each.before, each.after, each.by) for each in Correction.objects.all()]
    assert kept == [("label", "Field 1", "Field 1b", clerk), ("depth", "0-20 cm", "0-30 cm", clerk)]
    page = at(clerk).get(_address(sample)).content.decode()
    assert "label was “Field 1”, is “Field 1b”. Letter of 3 Nov 2026" in page


@pytest.mark.parametrize(
    ("typed", "status", "said"),
    [
        ({"reason": ""}, 422, "Type why it is corrected."),
        ({"client_label": ""}, 422, "Type the label."),
        ({"depth_text": "0-30"}, 422, "has no unit"),
        ({"sampled_on": "03/04/2026"}, 422, "more than one day"),
        ({}, 409, "says so already"),
    ],
)
def test_what_cannot_be_read_or_changes_nothing_is_refused(
    at: Any, clerk: Any, the_job: Any, typed: dict[str, str], status: int, said: str
) -> None:
    sample = the_job.samples.first()
    answer = at(clerk).post(_address(sample), _sample(sample, **typed))
    assert (answer.status_code, Correction.objects.count()) == (status, 0)
    assert said in answer.content.decode()


def test_a_day_after_receipt_is_refused(at: Any, clerk: Any, the_job: Any) -> None:
    sample, later = the_job.samples.first(), timezone.localdate() + timedelta(days=2)
    answer = at(clerk).post(_address(sample), _sample(sample, sampled_on=f"{later}"))
    assert answer.status_code == 409
    assert "after receipt" in answer.content.decode()


def test_the_label_of_another_bag_is_refused(at: Any, clerk: Any, the_client: Any) -> None:
    first, _ = factories.job(the_client, clerk, samples=2).samples.all()
    answer = at(clerk).post(_address(first), _sample(first, client_label="FIELD 2"))
    assert answer.status_code == 409
    assert "two need to differ" in answer.content.decode()
    assert Correction.objects.count() == 0


def test_the_reference_of_a_job_and_the_name_of_a_client(at: Any, manager: Any, the_job: Any) -> None:
    why = {"reason": "Their order form"}
    at(manager).post(
        reverse("particles:correct_job", args=[the_job.number]), why | {"client_reference": "PO 17"}
    )
    at(manager).post(
        reverse("particles:correct_client", args=[the_job.client_id]),
        why | {"name": "Example Estate Ltd (invented)", "address": "2 Mill Row", "contact": ""},
    )
    the_job.refresh_from_db()
    assert the_job.client_reference == "PO 17"
    assert the_job.client.name == "Example Estate Ltd (invented)"
    assert {each.fact for each in the_job.client.corrections.all()} >= {"name"}


def test_a_client_cannot_take_the_name_of_another(at: Any, manager: Any, the_job: Any) -> None:
    other = factories.client("Tarn Orchards (invented)")
    typed = {"reason": "x", "name": other.name.upper(), "address": "2 Mill Row", "contact": ""}
    answer = at(manager).post(reverse("particles:correct_client", args=[the_job.client_id]), typed)
    assert answer.status_code == 422
    assert "is a client already" in answer.content.decode()


def test_a_correction_is_never_changed(at: Any, clerk: Any, the_job: Any) -> None:
    sample = the_job.samples.first()
    at(clerk).post(_address(sample), _sample(sample, client_label="Field 1b"))
    with pytest.raises(ProgrammingError), transaction.atomic():
        Correction.objects.update(before="Field 9")


def test_nothing_measured_can_be_corrected_this_way() -> None:
    assert {name for names in CORRECTABLE.values() for name in names} == {
        *("client_label", "depth_text", "sampled_on", "client_reference", "name", "address", "contact")
    }
