"""Pages for what went wrong, and what the log keeps of it."""

from __future__ import annotations

import logging
import sys
from typing import Any

import pytest
from django.urls import reverse

from labsite.mishaps.logs import NoTraceOfRefusals

pytestmark = pytest.mark.django_db


def test_the_address_of_a_form_answers_a_person_with_a_page(client: Any, clerk: Any) -> None:
    client.force_login(clerk)
    answer = client.get(reverse("particles:job_accept", args=["J26-0001"]), headers={"accept": "text/html"})
    assert answer.status_code == 405
    assert answer["Allow"] == "POST"
    assert "only takes what a form sends" in answer.content.decode()


def test_a_program_gets_the_header_alone(client: Any, clerk: Any) -> None:
    client.force_login(clerk)
    address = reverse("particles:job_accept", args=["J26-0001"])
    answer = client.get(address, headers={"accept": "application/json"})
    assert (answer.status_code, answer["Allow"], answer.content) == (405, "POST", b"")


@pytest.mark.parametrize(("level", "kept"), [(logging.WARNING, False), (logging.ERROR, True)])
def test_only_defects_leave_a_traceback_in_the_log(level: int, kept: bool) -> None:
    try:
        raise ValueError("example")
    except ValueError:
        record = logging.LogRecord("django.request", level, __file__, 1, "refused", (), sys.exc_info())
    assert NoTraceOfRefusals().filter(record)
    assert (record.exc_info is not None) == kept
