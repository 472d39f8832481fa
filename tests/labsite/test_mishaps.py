"""Pages for what goes wrong on the way, in the laboratory's own words."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse


@pytest.mark.django_db
def test_a_form_of_an_earlier_log_in_says_what_to_do(clerk: Any) -> None:
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(clerk)
    answer = browser.post(reverse("particles:client_new"), {"name": "x"})
    assert answer.status_code == 403
    assert "belongs to an earlier log-in" in answer.content.decode()
    assert "DEBUG" not in answer.content.decode()
