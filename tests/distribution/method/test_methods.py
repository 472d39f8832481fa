"""The editions: their times, and which of them may be certified."""

from __future__ import annotations

from itertools import pairwise

import pytest

from particles.distribution import METHOD_EDITIONS, QualityLimits, validate_edition

SCHEDULES = {
    "hydrometer-nine-2026-4": (30, 60, 180, 600, 1800, 3600, 5400, 7200, 86400),
    "hydrometer-four-2026-4": (30, 60, 5400, 86400),
    "hydrometer-engineering-2026-4": (120, 300, 900, 1800, 3600, 15000, 86400),
    "hydrometer-standard-eight-2026-4": (60, 120, 240, 900, 1800, 3600, 14400, 86400),
    "hydrometer-ten-2026-4": (30, 60, 180, 600, 1800, 3600, 5400, 14400, 28800, 86400),
    "two-reading-2026-1": (40, 7200),
}
FOLLOWED = {edition.follows for edition in METHOD_EDITIONS.values()} - {""}


def test_schedules() -> None:
    offered = {code: edition for code, edition in METHOD_EDITIONS.items() if code not in FOLLOWED}
    assert {code: edition.schedule_s for code, edition in offered.items()} == SCHEDULES


def test_what_was_computed_by_an_earlier_edition_can_be_computed_again() -> None:
    """Those that others follow stay as they were entered, each later one names the one before."""
    for code in FOLLOWED:
        number = code[-1]
        edition, later = METHOD_EDITIONS[code], METHOD_EDITIONS[f"{code[:-1]}{int(number) + 1}"]
        assert (later.follows, later.schedule_s) == (code, edition.schedule_s)
        fast_fall_pct = 60.0 if number == "3" else 50.0
        assert edition.limits == QualityLimits(fast_fall_pct_per_halving=fast_fall_pct)
        assert (edition.draws, edition.edition_on) == {
            "1": (2000, "2026-01-05"),
            "2": (10_000, "2026-11-25"),
            "3": (10_000, "2026-11-25"),
        }[number]
        assert edition.sand_at_limit is (number == "3")
        blanks = (edition.uncertainties.blank_g_l, edition.uncertainties.blank_reading_g_l)
        assert blanks == ((0.1, 0.35) if number == "3" else (0.3, 0.0))
        assert (edition.least_points, edition.widest_gap) == (0, None)
    assert len(FOLLOWED) == 15


@pytest.mark.parametrize("code", METHOD_EDITIONS)
def test_every_edition_is_complete(code: str) -> None:
    edition = METHOD_EDITIONS[code]
    validate_edition(edition)
    assert all(a < b for a, b in pairwise(edition.schedule_s))
    assert edition.sources
    assert (edition.clay_limit_um, edition.sand_limit_um, edition.soak_minimum_h) == (2.0, 50.0, 12.0)
    assert edition.certifiable is (code != "two-reading-2026-1")


@pytest.mark.parametrize(
    ("nominal_s", "allowed_s"), [(30.0, 2.0), (40.0, 3.0), (60.0, 3.0), (180.0, 3.6), (86400.0, 1728.0)]
)
def test_windows_around_the_nominal_times(nominal_s: float, allowed_s: float) -> None:
    """30 s within 2 s, 60 s within 3 s, later 2 %: common practice."""
    assert METHOD_EDITIONS["hydrometer-nine-2026-4"].window_s(nominal_s) == pytest.approx(allowed_s)
