"""The laboratory manager and the equipment custodian, over the real URLs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from batches.models import Thermometer
from particles.models import Client
from tests.conftest import SECRET
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def logged_in(name: str) -> Browser:
    browser = Browser()
    browser.post(reverse("account_login"), {"login": name, "password": SECRET})
    return browser


def test_the_manager_enters_a_client_whose_person_then_sees_its_jobs(
    manager: Any, clerk: Any, bench: Any
) -> None:
    person = get_user_model()(username="nadia", first_name="Nadia", last_name="Example", roles=["client"])
    person.set_password(SECRET)
    person.save()
    office = logged_in(manager.username)
    typed = {"name": "New Farm (invented)", "address": "2 Example Lane", "contact": ""}
    assert office.post(reverse("particles:client_new"), typed).status_code == 302
    client = Client.objects.get()
    place = reverse("particles:client_person_new", args=[client.pk])

    job = factories.job(client, clerk)
    visitor = logged_in("nadia")
    assert visitor.get(reverse("reports:my_job", args=[job.number])).status_code == 404
    consent = {"username": "nadia", "consent": "letter of the client, folder 3"}
    assert office.post(place, consent).status_code == 302
    assert job.number in visitor.get(reverse("reports:my_jobs")).content.decode()
    assert visitor.get(reverse("particles:clients")).status_code == 403


def test_a_withdrawn_thermometer_is_offered_no_more_and_its_history_stays(
    custodian: Any, technician: Any, the_client: Any, clerk: Any, bench: Any
) -> None:
    today = timezone.localdate()
    store = logged_in(custodian.username)
    typed = {
        "serial": "T-77",
        "correction_c": "-0.2",
        "checked_on": str(today - timedelta(days=1)),
        "due_on": str(today + timedelta(days=365)),
        "certificate": "invented",
    }
    assert store.post(reverse("batches:equipment_new", args=["thermometer"]), typed).status_code == 302
    sample = factories.prepared(factories.job(the_client, clerk).samples.get(), technician)
    factories.portion(sample, technician, bench)

    bench_person = logged_in(technician.username)
    offered = bench_person.get(reverse("batches:new"), follow=True).content.decode()
    assert "T-77" in offered
    thermometer = Thermometer.objects.get(serial="T-77")
    withdraw = reverse("batches:withdraw", args=["thermometer", thermometer.pk])
    assert bench_person.post(withdraw, {"reason": "Cracked."}).status_code == 403
    assert store.post(withdraw, {"reason": "Cracked."}).status_code == 302
    assert "T-77" not in bench_person.get(reverse("batches:new"), follow=True).content.decode()
    events = thermometer.events.order_by("pgh_id")  # type: ignore[attr-defined]
    assert [event.withdrawn_reason for event in events] == ["", "Cracked."]
