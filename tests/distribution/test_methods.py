"""The editions: their times, and which of them may be certified."""

from __future__ import annotations

from itertools import pairwise

import pytest

from particles.distribution import METHOD_EDITIONS

SCHEDULES = {
    "hydrometer-nine-2026-1": (30, 60, 180, 600, 1800, 3600, 5400, 7200, 86400),
    "hydrometer-four-2026-1": (30, 60, 5400, 86400),
    "hydrometer-engineering-2026-1": (120, 300, 900, 1800, 3600, 15000, 86400),
    "two-reading-2026-1": (40, 7200),
}


def test_schedules() -> None:
    assert {code: edition.schedule_s for code, edition in METHOD_EDITIONS.items()} == SCHEDULES


@pytest.mark.parametrize("code", METHOD_EDITIONS)
def test_every_edition_is_complete(code: str) -> None:
    edition = METHOD_EDITIONS[code]
    assert all(a < b for a, b in pairwise(edition.schedule_s))
    assert edition.sources
    assert (edition.clay_limit_um, edition.sand_limit_um, edition.soak_minimum_h) == (2.0, 50.0, 12.0)
    assert edition.certifiable is (code != "two-reading-2026-1")
