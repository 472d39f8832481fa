"""
Speed and memory of the core: run as `python -m particles.benchmarks.speed PART`, prints JSON.

Times are processor times of one core, the median of repeats; the caller sets the number of threads to one
before numpy is loaded.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path
from statistics import median

import numpy as np

from particles.distribution import METHOD_EDITIONS, RunRecord, compute_distribution
from particles.distribution.uncertainty.model import SEED

from .coverage import observed_run, straight_soil
from .general_library import (
    core_sample,
    installed,
    library_sample,
    point_function,
    result_of,
    sample_function,
)

METHOD = METHOD_EDITIONS["hydrometer-nine-2026-4"]
DRAWS = 10_000
Figures = dict[str, float]


def invented_records(runs: int, seed: int = 1) -> list[RunRecord]:
    """Records of as many invented soils."""
    random = np.random.Generator(np.random.PCG64(seed))
    return [observed_run(straight_soil(random), METHOD, random, sieved=False) for _ in range(runs)]


def seconds(work: Callable[[], object], repeats: int) -> float:
    """Median processor time of one go, after one that does not count. [s]"""
    work()
    taken = []
    for _ in range(repeats):
        started = time.process_time()
        work()
        taken.append(time.process_time() - started)
    return median(taken)


def one_run_s() -> Figures:
    """One run without and with uncertainty; new draws are those of a seed this process has not met. [s]"""
    record, seeds = invented_records(1)[0], count(1)
    return {
        "without_draws": seconds(lambda: compute_distribution(record, METHOD, draws=0), 500),
        "ten_thousand_draws": seconds(lambda: compute_distribution(record, METHOD, draws=DRAWS), 100),
        "ten_thousand_new_draws": seconds(
            lambda: compute_distribution(record, METHOD, draws=DRAWS, seed=next(seeds)), 50
        ),
    }


def library_s() -> Figures:
    """Time of the core's model and draws through the general-purpose library, once per draw and at once. [s]"""
    if not installed():
        return {}
    record = invented_records(1)[0]
    by_point, by_sample = point_function(record, METHOD), sample_function(record, METHOD)
    given = core_sample(record, METHOD, DRAWS, SEED)
    return {
        "once_per_draw": seconds(lambda: result_of(by_point, given), 5),
        "all_at_once": seconds(lambda: result_of(by_sample, given), 20),
        "once_per_new_draw": seconds(lambda: result_of(by_point, library_sample(record, DRAWS, 1)), 5),
    }


def per_run_s() -> Figures:
    """Time per run of a short and a long batch without uncertainty, all results kept. [s]"""
    known = invented_records(100)

    def batch(runs: int) -> list[object]:
        return [compute_distribution(known[k % len(known)], METHOD, draws=0) for k in range(runs)]

    short, long = 10, 10_000
    return {
        str(short): seconds(lambda: batch(short), 50) / short,
        str(long): seconds(lambda: batch(long), 1) / long,
    }


def batch_of_1000() -> Figures:
    """Time per run and peak memory of a batch of 1 000 different runs with the edition's draws, results kept."""
    records = invented_records(1000)
    short = seconds(lambda: [compute_distribution(record, METHOD) for record in records[:10]], 10) / 10
    started = time.process_time()
    results = [compute_distribution(record, METHOD) for record in records]
    long = (time.process_time() - started) / len(results)
    return {"short_s": short, "long_s": long, "peak_mb": peak_mb(), "draws": float(METHOD.draws)}


def peak_mb() -> float:
    """Largest memory this process has held; its parent's does not count. [MB]"""
    lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024.0


PARTS: dict[str, Callable[[], Figures]] = {
    "one_run": one_run_s,
    "library": library_s,
    "per_run": per_run_s,
    "batch": batch_of_1000,
}

if __name__ == "__main__":
    print(json.dumps(PARTS[sys.argv[1]]()))
