"""Measures the computing core against its aims and prints ratios; needs no database."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from particles.benchmarks.coverage import (
    Soils,
    hidden_soil,
    loess_soil,
    measure_coverage,
    smooth_soil,
    straight_soil,
    triangle_soil,
)
from particles.benchmarks.speed import METHOD
from particles.distribution import METHOD_EDITIONS, MethodEdition
from particles.distribution.triple import SandSiltClay

ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
WITH_8_H = METHOD_EDITIONS["hydrometer-ten-2026-4"]
SHORT = METHOD_EDITIONS["hydrometer-four-2026-4"]
FROM_1_MIN = METHOD_EDITIONS["hydrometer-standard-eight-2026-4"]
FROM_2_MIN = METHOD_EDITIONS["hydrometer-engineering-2026-4"]
READS_SAND_LIMIT_S = 30.0
"""A first reading at or before it speaks for the sand limit without a sieve. [s]"""
COVERAGE_AIM_PCT = (94.0, 96.0)


def measured(part: str) -> dict[str, float]:
    """One part of particles.benchmarks.speed in a process of its own, on one thread."""
    command = [sys.executable, "-m", "particles.benchmarks.speed", part]
    finished = subprocess.run(
        command,
        env={**os.environ, **ONE_THREAD},
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=True,
    )
    figures: dict[str, float] = json.loads(finished.stdout)
    return figures


class Command(BaseCommand):
    """Measures the computing core and prints its figures beside their aims."""

    help = (
        "Measures speed and memory of the computing core; with --coverage also how honest its intervals are."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--coverage", action="store_true", help="also count how often 95 %% intervals hold"
        )
        parser.add_argument("--runs", type=int, default=4000, help="simulated runs for each kind of soil")

    def handle(self, *args: Any, **options: Any) -> None:
        self._speed()
        if options["coverage"]:
            self._coverage(options["runs"])

    def _line(self, what: str, figure: str, aim: str = "", met: bool | None = None) -> None:
        verdict = "" if met is None else ("met" if met else "MISSED")
        self.stdout.write(f"{what:<66} {figure:>14}   {aim:<12} {verdict}".rstrip())

    def _speed(self) -> None:
        one, library = measured("one_run"), measured("library")
        alone_ms, drawn_s = 1000.0 * one["without_draws"], one["ten_thousand_draws"]
        self._line("one run without uncertainty", f"{alone_ms:.2f} ms", "< 1 ms", alone_ms < 1.0)
        self._line(
            "runs with 10 000 draws on one core", f"{1 / drawn_s:.0f} /s", ">= 100 /s", drawn_s <= 0.01
        )
        self._line("  new draws for every run", f"{1 / one['ten_thousand_new_draws']:.0f} /s")
        if library:
            ratio = library["once_per_draw"] / drawn_s
            self._line(
                "OpenTURNS, same model, same draws, function called once per draw",
                f"{ratio:.0f} x slower",
                ">= 100 x",
                ratio >= 100.0,
            )
            ratio = library["once_per_new_draw"] / one["ten_thousand_new_draws"]
            self._line("  both with new draws", f"{ratio:.0f} x slower")
            ratio = library["all_at_once"] / drawn_s
            self._line("  its function one call of this core's arrays for all draws", f"{ratio:.1f} x slower")
        else:
            self.stdout.write("OpenTURNS is not installed, so nothing was compared (tests/requirements.txt).")
        per_run = measured("per_run")
        ratio = per_run["10000"] / per_run["10"]
        self._line(
            "time per run, 10 000 runs against 10, without uncertainty", f"{ratio:.2f}", "< 1.2", ratio < 1.2
        )
        batch = measured("batch")
        ratio = batch["long_s"] / batch["short_s"]
        self._line(
            "time per run, 1 000 runs against 10, with uncertainty", f"{ratio:.2f}", "< 1.2", ratio < 1.2
        )
        peak = batch["peak_mb"]
        self._line(
            "peak memory of a batch of 1 000 runs with uncertainty", f"{peak:.0f} MB", "< 500 MB", peak < 500
        )

    def _coverage(self, runs: int) -> None:
        self.stdout.write(f"\n95 % intervals, {runs} simulated runs each, each edition's own draws")
        for title, soil, methods in (
            ("Bent curves of two populations:", smooth_soil, (METHOD, WITH_8_H)),
            ("Bent curves over the whole texture triangle:", triangle_soil, (METHOD, WITH_8_H, SHORT)),
            ("Straight curves, where reading off adds no error:", straight_soil, (METHOD,)),
            (
                "Loess, a narrow population across the sand limit:",
                loess_soil,
                (METHOD, FROM_1_MIN, FROM_2_MIN),
            ),
        ):
            self.stdout.write(title)
            for method in methods:
                for sieved in (False, True):
                    if sieved or method.schedule_s[0] <= READS_SAND_LIMIT_S:
                        self._counted(method, soil, runs, sieved=sieved)
        self.stdout.write("The whole triangle, portions of 20 g:")
        for sieved in (False, True):
            self._counted(METHOD, triangle_soil, runs, sieved=sieved, portion_g=20.0)
        self.stdout.write(
            "A narrow population between the readings at 2 h and 24 h, which nine readings cannot show:"
        )
        for method in (METHOD, WITH_8_H):
            self._counted(method, hidden_soil, runs, sieved=True, aimed=False)

    def _counted(
        self,
        method: MethodEdition,
        soil: Soils,
        runs: int,
        *,
        sieved: bool,
        portion_g: float = 40.0,
        aimed: bool = True,
    ) -> None:
        started, (low, high) = time.perf_counter(), COVERAGE_AIM_PCT
        found = measure_coverage(
            method, soil, runs=runs, draws=method.draws, seed=20260105, sieved=sieved, portion_g=portion_g
        )
        by = "sieve" if sieved else "hydrometer"
        readings = len(method.schedule_s)
        for name, held, error in zip(SandSiltClay._fields, found.held_pct, found.mean_error_pct, strict=True):
            what = f"{readings} readings, sand by {by}: {name} (mean error {error:+.2f} points)"
            aim, met = (f"{low:g} to {high:g} %", low <= held <= high) if aimed else ("", None)
            self._line(what, f"{held:.1f} %", aim, met)
        self.stdout.write(f"  took {time.perf_counter() - started:.0f} s")
