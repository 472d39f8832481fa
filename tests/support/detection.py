"""
Detection and false-alarm rates of the checks, over invented runs.

`python -m tests.support.detection [clean runs] [runs per fault]` prints the tables.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from particles.distribution import METHOD_EDITIONS, DistributionError, Severity, compute_distribution
from tests.support.planted_faults import FAULTS, Fault
from tests.support.simulator import Simulated, clean_run, loess, random_bench

WINDOW = 40
NOTES_COUNT = frozenset({"reading_missed", "off_schedule", "timer_suspected", "clear_late"})
"""Notes that are what their fault calls for; every other note is no alarm."""


def alarms(run: Simulated) -> set[tuple[str, str]]:
    """(code, severity) of every finding of a run, or the error that refuses it."""
    try:
        answer = compute_distribution(run.record, run.method, draws=0)
    except DistributionError as error:
        return {(type(error).__name__, "stop")}
    return {(finding.code, finding.severity.value) for finding in answer.findings}


CleanRun = Callable[[np.random.Generator], Simulated]
EIGHT = METHOD_EDITIONS["hydrometer-standard-eight-2026-4"]
KINDS: dict[str, CleanRun] = {
    "usual": clean_run,
    "loess": lambda random: clean_run(random, loess(random)),
    "portion of 20 g": lambda random: clean_run(random, portion_g=20.0),
    "first read at 1 min": lambda random: clean_run(random, bench=random_bench(random, EIGHT)),
}
"""Clean runs of every kind that a check could take for a fault."""


def false_alarms(clean: int, seed: int = 1, kind: CleanRun = clean_run) -> dict[tuple[str, str], float]:
    """(code, severity) -> share of clean runs of a kind, notes left out. [%]

    Left out because deserved: a temperature that truly moved by more than 2 C, what is said of the sand limit that a
    first reading at 1 min does not reach without a sieve, and that no soil is seen where truly less than 1 g/L is left.
    """
    random, count = np.random.default_rng(seed), Counter[tuple[str, str]]()
    for _ in range(clean):
        run = kind(random)
        for code, severity in alarms(run):
            if code == "temperature_jump" and run.temperature_moved_c > 1.9:
                continue
            if code == "nothing_in_suspension" and run.first_g_l < 1.0:
                continue
            if code.startswith("sand_limit_") and run.method is EIGHT:
                continue
            if severity != Severity.NOTE:
                count[code, severity] += 1
    return {alarm: 100.0 * number / clean for alarm, number in count.most_common()}


@dataclass(frozen=True, slots=True)
class Rate:
    fault: Fault
    planted: int
    caught_pct: float
    large: int
    """How many were at least `fault.sure_from`."""
    large_caught_pct: float
    sizes: tuple[tuple[float, bool], ...]

    def smallest_sure(self) -> float | None:
        """Size from which every forty faults next to each other in size are caught more than 95 %."""
        ordered = sorted(self.sizes)
        best = None
        for k in range(len(ordered) - WINDOW, -1, -1):
            if sum(hit for _, hit in ordered[k : k + WINDOW]) <= 0.95 * WINDOW:
                break
            best = ordered[k][0]
        return best


def detection(fault: Fault, runs: int, seed: int = 2) -> Rate:
    """How often the checks meant for a fault catch it; runs that cannot carry it are drawn anew."""
    random = np.random.default_rng([seed, *fault.name.encode()])
    sizes: list[tuple[float, bool]] = []
    while len(sizes) < runs:
        made = fault.plant(clean_run(random), random)
        if made is None:
            continue
        codes = {code for code, severity in alarms(made) if severity != "note" or code in NOTES_COUNT}
        sizes.append((made.size, bool(codes & fault.caught_by)))
    large = [hit for size, hit in sizes if fault.sure_from is not None and size >= fault.sure_from]
    share = 100.0 * sum(large) / len(large) if large else float("nan")
    return Rate(fault, runs, 100.0 * sum(hit for _, hit in sizes) / runs, len(large), share, tuple(sizes))


def main(clean: int = 10_000, per_fault: int = 1_000) -> None:
    for name, kind in KINDS.items():
        print(f"False alarms on {clean} clean runs, {name}, percent of runs")
        for (code, severity), share in false_alarms(clean, kind=kind).items():
            print(f"  {code:28} {severity:5} {share:6.2f}")
    print(f"\nDetection, {per_fault} runs per fault")
    print(f"  {'fault':28} {'all %':>6} {'from size':>18} {'caught %':>9} {'of':>5} {'95 % from':>10}")
    for fault in FAULTS:
        rate = detection(fault, per_fault)
        sure = "none" if fault.sure_from is None else f"{fault.sure_from:g} {fault.unit}"
        least = rate.smallest_sure()
        seen = "-" if least is None else f"{least:.2f}"
        shares = f"{rate.caught_pct:6.1f} {sure:>18} {rate.large_caught_pct:9.1f} {rate.large:5}"
        print(f"  {fault.name:28} {shares} {seen:>10}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
