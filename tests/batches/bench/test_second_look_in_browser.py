"""The second look in a real Chromium: asked for on the tablet, taken with its own moment, kept beside the first."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from batches.models import SecondReading
from tests.support.on_tablet import soon_kept, start_first

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def the_first_slot_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before the tablet is opened; waiting ten minutes for a slot is no test."""
    monkeypatch.setattr("batches.readers.choice.is_asked", lambda *where: where[-1] == 30)


def test_a_second_person_reads_at_the_moment_of_the_tap(
    the_first_slot_is_asked: None, tablet: Any, filled_batch: Any
) -> None:
    start_first(tablet)
    tablet.locator("#next-second").wait_for()
    tablet.click("#second-title")
    assert "Second look at 30 s" in tablet.inner_text("#second-title")
    tablet.click("#second-keep")  # nothing was read yet: it waits at the button
    assert tablet.evaluate("document.activeElement.id") == "second-now"
    tablet.click("#second-now")
    assert "take anew" in tablet.inner_text("#second-now")
    tablet.fill("#second-value", "24.5")
    tablet.click("#second-keep")
    (kept,) = soon_kept(tablet, SecondReading)
    assert (kept.slot_s, kept.reading, kept.source) == (30, Decimal("24.5"), "tablet")
    assert 0 < kept.elapsed_s < 60
    tablet.locator("#second-panel").wait_for(state="hidden")
    tablet.locator("#next-second").wait_for(state="hidden")
