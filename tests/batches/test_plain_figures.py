"""Figures and times in words on the pages."""

from __future__ import annotations

import pytest

from batches.templatetags.plain_figures import about, signed


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(45.2, "45 s"), (720, "12 min"), (3590, "1 h"), (26290, "7 h 20 min"), (86400, "24 h")],
)
def test_a_time_to_aim_for(seconds: float, words: str) -> None:
    assert about(seconds) == words


@pytest.mark.parametrize(
    ("value", "words"), [(0.124, "+0.12"), (-1.5, "−1.50"), (0.001, "0.00"), (-0.001, "0.00"), (None, "")]
)
def test_a_change_carries_its_sign(value: float | None, words: str) -> None:
    assert signed(value) == words
