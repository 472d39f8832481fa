"""What the next reading may be: bands from invented soils, the same on the tablet, and what they catch."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from particles.distribution import METHOD_EDITIONS, HydrometerScale
from particles.distribution.advice.expected_reading import (
    SOILS,
    expected_band,
    shares_of,
    told_to_tablet,
    whole_reading,
)
from tests.support.asked_at_entry import PLACES, measure

SCHEDULE_S = METHOD_EDITIONS["hydrometer-nine-2026-4"].schedule_s
VECTORS = Path(__file__).resolve().parents[3] / "fixtures" / "expected_readings.json"
"""Written by `python -m tests.distribution.advice.test_expected_reading`; the tablet's tests read it."""


def vectors() -> dict[str, Any]:
    """Bands of invented readings on both stems, early and late ones among them."""
    random, cases = np.random.default_rng(7), []
    for number in range(24):
        whole, step = (50.0, 0.5) if number % 3 else (0.0311, 0.0005)
        count = number % len(SCHEDULE_S)
        falling = np.sort(random.uniform(0.05, 1.0, count))[::-1]
        before = [
            (round(s * random.uniform(0.9, 1.1), 1), round(whole * float(share), 5))
            for s, share in zip(SCHEDULE_S, falling, strict=False)
        ]
        elapsed_s = round(SCHEDULE_S[count] * random.uniform(0.6, 1.7), 1)
        band = expected_band(SCHEDULE_S, whole, step, before, elapsed_s)
        cases.append(
            {"whole": whole, "step": step, "before": before, "elapsed_s": elapsed_s}
            | {"low": band.low, "high": band.high}
        )
    return {
        "about": "Invented readings and the band expected after them.",
        "schedule_s": list(SCHEDULE_S),
        "told": told_to_tablet(SCHEDULE_S),
        "cases": cases,
    }


def test_the_tablet_is_tested_on_the_bands_of_today() -> None:
    kept, now = json.loads(VECTORS.read_text(encoding="utf-8")), json.loads(json.dumps(vectors()))
    assert kept["told"] == now["told"]
    for old, new in zip(kept["cases"], now["cases"], strict=True):
        assert (old["before"], old["elapsed_s"]) == (new["before"], new["elapsed_s"])
        assert (old["low"], old["high"]) == pytest.approx((new["low"], new["high"]), abs=1e-9)


def test_the_soils_are_made_in_less_than_a_second_and_cover_the_triangle() -> None:
    began = time.perf_counter()
    shares = np.array(shares_of.__wrapped__(SCHEDULE_S))
    assert time.perf_counter() - began < 1.0
    assert shares.shape == (SOILS, len(SCHEDULE_S))
    assert (np.diff(shares, axis=1) <= 0).all(), "soil only falls out of suspension"
    assert (shares[:, 0].min(), shares[:, 0].max()) < (50, 1001)
    assert shares[:, -1].max() > 700, "some soils are nearly all fine clay"


def test_a_reading_that_follows_the_soil_lies_inside_and_one_off_it_outside() -> None:
    soil = np.array(shares_of(SCHEDULE_S)[10]) / 1000.0 * 50.0
    before = list(zip(SCHEDULE_S[:4], soil[:4], strict=True))
    band = expected_band(SCHEDULE_S, 50.0, 0.5, before, SCHEDULE_S[4])
    assert band.low < soil[4] < band.high
    assert band.low > soil[4] - 20.0
    assert band.high < soil[3] + 5.0


def test_a_history_no_soil_has_still_gives_a_band_around_what_follows() -> None:
    band = expected_band(SCHEDULE_S, 50.0, 0.5, [(30.0, 10.0), (60.0, 45.0)], 120.0)
    assert -2.0 < band.low < band.high < 55.0


def test_the_whole_portion_is_told_in_the_unit_of_the_stem_and_to_whole_grams() -> None:
    assert whole_reading(HydrometerScale.GRAMS_PER_LITRE, 50.31, 1000.0) == pytest.approx(50.0)
    assert whole_reading(HydrometerScale.RELATIVE_DENSITY, 50.31, 1000.0) == pytest.approx(0.0312, abs=1e-4)


@pytest.mark.parametrize(("kind", "large_pct", "second_pct"), [("usual", 55.0, 68.0), ("loess", 38.0, 50.0)])
def test_most_wrong_values_are_asked_about_and_hardly_a_right_one(
    kind: str, large_pct: float, second_pct: float
) -> None:
    found = measure(10, 3, kind)
    assert found.share_pct("false") <= 1.5
    assert found.share_pct("every fault", "large") >= large_pct
    assert found.share_pct("every fault", "second") >= second_pct
    assert all(found.of["every fault", place] > 20 for place in PLACES)


if __name__ == "__main__":
    VECTORS.write_text(json.dumps(vectors(), indent=1) + "\n", encoding="utf-8")
