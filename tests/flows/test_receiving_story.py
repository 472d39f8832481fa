"""From a parcel on the receiving bench to a sample that is ready to weigh."""

from __future__ import annotations

import re
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client as Browser
from django.urls import reverse

from particles.models import Job, MethodEditionRecord
from tests.support import factories

pytestmark = pytest.mark.django_db


def logged_in(person: Any) -> Browser:
    browser = Browser()
    browser.force_login(person)
    return browser


def test_a_parcel_becomes_samples_that_are_ready_to_weigh(
    bench: Any, the_client: Any, clerk: Any, technician: Any, client_person: Any
) -> None:
    desk, room = logged_in(clerk), logged_in(technician)

    form = desk.get(reverse("particles:job_new")).content.decode()
    submission = re.search(r'name="submission" value="([^"]+)"', form)
    assert submission
    typed: dict[str, Any] = {
        "submission": submission[1],
        "client": the_client.pk,
        "method": MethodEditionRecord.objects.get(code=factories.FOUR_READINGS).pk,
        "sand_by_sieve": "yes",
        "pretreatment_wish": "keep carbonates",
        "origin_country": "Examplia",
        "line_count": "12",
    }
    for number, label in enumerate(["Bank 1", "Bank 2", "Bank 3"], start=1):
        typed |= {f"line{number}-client_label": label, f"line{number}-depth_text": "0-20 cm"}
    page = desk.post(reverse("particles:job_new"), typed, follow=True)
    job = Job.objects.get()
    assert f"Job {job.number} is logged. Samples: 3." in page.content.decode()

    acknowledgement = desk.get(reverse("particles:job_acknowledgement", args=[job.number])).content.decode()
    assert all(label in acknowledgement for label in ("Bank 1", "Bank 2", "Bank 3"))

    desk.post(reverse("particles:job_accept", args=[job.number]))
    assert set(job.samples.values_list("state", flat=True)) == {"accepted"}

    sample = job.samples.get(client_label="Bank 2")
    assert sample.lab_number in room.get(reverse("batches:preparation")).content.decode()
    weighed = {
        "drying_temperature_c": "38",
        "drying_hours": "48",
        "crushing": "by hand",
        "fine_earth_g": "412.5",
        "gravel_g": "12.0",
        "entry_id": str(uuid4()),
    }
    page = room.post(reverse("batches:prepare", args=[sample.lab_number]), weighed, follow=True)
    assert "“keep carbonates”" in page.content.decode()
    decision = {
        "organic_matter_pct": "1.1",
        "fizz": "weak",
        "remove_organic_matter": "leave",
        "remove_carbonates": "leave",
        "remove_soluble_salts": "leave",
        "reason": "Little organic matter; carbonates kept as wished.",
        "entry_id": str(uuid4()),
    }
    page = room.post(reverse("batches:pretreatment", args=[sample.lab_number]), decision, follow=True)
    assert [ready.pk for ready in page.context["to_weigh"]] == [sample.pk]
    assert reverse("batches:weigh", args=[sample.lab_number]) in page.content.decode()

    sample.refresh_from_db()
    assert (sample.state, sample.pretreatment.in_words) == ("prepared", "none")
    assert [move.to_state for move in sample.moves.all()] == ["accepted", "prepared"]

    assert logged_in(client_person).get(reverse("particles:job", args=[job.number])).status_code == 403
