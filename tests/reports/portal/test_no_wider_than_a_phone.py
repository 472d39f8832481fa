"""No page of a client is wider than the smallest phones, whatever its job has come to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch
from batches.nonconforming.rules import reopen
from reports.certificates.models import Certificate
from reports.certificates.rules import withdraw_certificate
from tests.conftest import SECRET
from tests.support import factories
from tests.support.browsing import CHROMIUM, WIDER, cut_off, page_as

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SMALL, USUAL = (320, 640), (390, 844)
FOUND = "The bags of both samples were poured into each other's cylinder."
OUT_OF_ITS_CARD = """() => [...document.querySelectorAll("main .state, main .button")]
  .filter((each) => {
    const card = (each.closest("td, th, caption, .page-actions") ?? document.body).getBoundingClientRect();
    const box = each.getBoundingClientRect();
    return box.width > 0 && box.right > card.right + 1;
  })
  .map((each) => each.textContent.trim())"""
"""Words in an outline and buttons that reach beyond the card they stand in."""


@pytest.fixture
def shown(
    certificate: Certificate, live_server: Any, client_person: Any, require: Any,
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest,
) -> Iterator[Any]:  # fmt: skip
    require("browser", CHROMIUM.exists())
    with page_as(
        client_person,
        live_server.url,
        request.param,
        monkeypatch,
        is_fault=lambda said: "Policy" in said.text,
    ) as page:
        yield page


def _fits(page: Any, *addresses: str) -> None:
    for address in addresses:
        page.goto(address)
        assert page.locator("main .state").count() or "/certificates/" in address, (
            "a page without a word proves little"
        )
        assert page.evaluate(WIDER) <= 0, address
        assert page.evaluate(OUT_OF_ITS_CARD) == [], address
        assert cut_off(page) == [], address


@pytest.mark.parametrize("shown", [SMALL, USUAL], indirect=True)
def test_no_page_of_a_client_is_wider_than_its_screen(
    shown: Any, certificate: Certificate, the_client: Any, clerk: Any, second_officer: Any, manager: Any
) -> None:
    held = factories.job(the_client, clerk)
    held.samples.get().hold(reason="A permit is missing.", waits_for="custodian", by=clerk, at=timezone.now())
    jobs, job, paper = "/my/", f"/my/{certificate.job.number}/", f"/certificates/{certificate.number}/"
    _fits(shown, jobs, f"/my/{held.number}/", job, paper)
    reopen(Batch.objects.get(), found=FOUND, found_by="the client", by=second_officer, at=timezone.now())
    _fits(shown, jobs, job, paper)
    withdraw_certificate(certificate, why="Bags.", by=manager, at=timezone.now(), secret=SECRET)
    _fits(shown, jobs, job, paper)
