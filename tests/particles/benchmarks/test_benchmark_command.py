"""The benchmark command: what it measures, and that it says when an aim is missed."""

from __future__ import annotations

from io import StringIO

import numpy as np
import pytest
from django.core.management import call_command

from particles.benchmarks import speed
from particles.management.commands import benchmark_distribution


def _one_run(without_draws: float, ten_thousand: float) -> dict[str, float]:
    return {
        "without_draws": without_draws,
        "ten_thousand_draws": ten_thousand,
        "ten_thousand_new_draws": 0.01,
    }


GOOD = {
    "one_run": _one_run(0.0004, 0.005),
    "library": {"once_per_draw": 1.1, "all_at_once": 0.02, "once_per_new_draw": 0.8},
    "per_run": {"10": 0.0004, "10000": 0.00044},
    "batch": {"short_s": 0.002, "long_s": 0.0021, "peak_mb": 60.0, "draws": 2000.0},
}


def _printed(monkeypatch: pytest.MonkeyPatch, **changed: dict[str, float]) -> str:
    figures = {**GOOD, **changed}
    monkeypatch.setattr(benchmark_distribution, "measured", figures.__getitem__)
    out = StringIO()
    call_command("benchmark_distribution", stdout=out)
    return out.getvalue()


def test_it_prints_ratios_and_aims_met(monkeypatch: pytest.MonkeyPatch) -> None:
    printed = _printed(monkeypatch)
    assert "220 x slower" in printed
    assert "80 x slower" in printed
    assert "4.0 x slower" in printed
    assert "200 /s" in printed
    assert "1.10" in printed
    assert "MISSED" not in printed


@pytest.mark.parametrize(
    ("part", "figures"),
    [
        ("one_run", _one_run(0.0011, 0.005)),
        ("one_run", _one_run(0.0004, 0.0101)),
        ("library", {"once_per_draw": 0.49, "all_at_once": 0.02, "once_per_new_draw": 0.8}),
        ("per_run", {"10": 0.0004, "10000": 0.0006}),
        ("batch", {"short_s": 0.002, "long_s": 0.0021, "peak_mb": 600.0, "draws": 2000.0}),
    ],
)
def test_it_says_when_an_aim_is_missed(
    monkeypatch: pytest.MonkeyPatch, part: str, figures: dict[str, float]
) -> None:
    assert _printed(monkeypatch, **{part: figures}).count("MISSED") == 1


def test_it_says_when_there_is_nothing_to_compare_with(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "OpenTURNS is not installed" in _printed(monkeypatch, library={})


def test_parts_are_measured_in_a_process_of_their_own() -> None:
    figures = benchmark_distribution.measured("one_run")
    assert 0.0 < figures["without_draws"] < figures["ten_thousand_draws"] < figures["ten_thousand_new_draws"]


def test_memory_counts_what_is_held() -> None:
    wanted_mb = speed.peak_mb() + 20.0
    held = np.ones(int(wanted_mb * 1024 * 1024 / 8))
    assert speed.peak_mb() >= wanted_mb
    assert held[-1] == 1.0


def test_records_of_a_batch_differ() -> None:
    records = speed.invented_records(20)
    assert len({tuple(point.reading for point in record.readings) for record in records}) == 20


def test_coverage_is_counted_on_request(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(benchmark_distribution, "measured", GOOD.__getitem__)
    out = StringIO()
    call_command("benchmark_distribution", coverage=True, runs=5, stdout=out)
    # Eight with sieve and without, light portions among them, loess with a sieve by two more; three fractions each.
    assert out.getvalue().count("94 to 96 %") == 3 * (2 * 8 + 2)
