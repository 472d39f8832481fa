from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client as Browser
from django.urls import reverse

from particles.models import MethodEditionRecord
from tests.support import factories


@pytest.fixture
def at() -> Callable[[Any], Browser]:
    """A browser in which this person is logged in."""

    def log_in(person: Any) -> Browser:
        browser = Browser()
        browser.force_login(person)
        return browser

    return log_in


@pytest.fixture
def job_form(bench: Any, the_client: Any) -> Callable[..., dict[str, Any]]:
    """What a browser sends for one good line; `line2_client_label="B"` fills further cells."""

    def fill(**cells: Any) -> dict[str, Any]:
        typed: dict[str, Any] = {
            "submission": str(uuid4()),
            "client": the_client.pk,
            "method": MethodEditionRecord.objects.get(code=factories.FOUR_READINGS).pk,
            "sand_by_sieve": "no",
            "line_count": "12",
            "line1-client_label": "Field 1",
            "line1-depth_text": "0-20 cm",
            "line1-origin_country": "Examplia",
        }
        named = {
            key.replace("_", "-", 1) if key.startswith("line") and key[4].isdigit() else key: value
            for key, value in cells.items()
        }
        return typed | named

    return fill


@pytest.fixture
def send_job(at: Any, clerk: Any, job_form: Any) -> Callable[..., Any]:
    def send(**cells: Any) -> Any:
        return at(clerk).post(reverse("particles:job_new"), job_form(**cells))

    return send
