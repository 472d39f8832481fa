"""Faults that show only beside the neighbours, planted into clean batches."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from particles.distribution import compute_distribution
from particles.distribution.causes.exchanges import exchanges_by_readings
from particles.distribution.neighbours.batch import BatchRun, batch_findings
from tests.support.simulator import Simulated, clean_batch, nets, with_points

Random = np.random.Generator
Planted = tuple[list[Simulated], float]
"""The batch and the size of its fault."""


@dataclass(frozen=True, slots=True)
class BatchFault:
    name: str
    plant: Callable[[list[Simulated], Random], Planted]
    caught_by: str
    sure_from: float
    unit: str


def _exchange(runs: list[Simulated], random: Random, *, to_the_end: bool) -> Planted:
    k, slots = int(random.integers(0, len(runs) - 1)), len(runs[0].record.readings)
    first = int(random.integers(1, slots))
    mine, theirs = list(runs[k].record.readings), list(runs[k + 1].record.readings)
    held, other = nets(runs[k]), nets(runs[k + 1])
    size = max(other[first] - held[first - 1], held[first] - other[first - 1])
    for s in range(first, slots if to_the_end else first + 1):
        mine[s], theirs[s] = (
            replace(mine[s], reading=theirs[s].reading),
            replace(theirs[s], reading=mine[s].reading),
        )
    changed = list(runs)
    changed[k], changed[k + 1] = with_points(runs[k], mine), with_points(runs[k + 1], theirs)
    return changed, size


def row_slip(runs: list[Simulated], random: Random) -> Planted:
    """Readings of two neighbours in each other's row from a slot on; size: the rise this makes. [g/L]"""
    return _exchange(runs, random, to_the_end=True)


def one_exchanged(runs: list[Simulated], random: Random) -> Planted:
    """One reading of two neighbours exchanged; size: the rise it makes at its own slot. [g/L]"""
    return _exchange(runs, random, to_the_end=False)


def copied(runs: list[Simulated], random: Random) -> Planted:
    """A column copied from the neighbour; size: range of its readings. [g/L]"""
    k = int(random.integers(0, len(runs) - 1))
    source = runs[k].record.readings
    points = [replace(p, reading=q.reading) for p, q in zip(runs[k + 1].record.readings, source, strict=True)]
    changed = list(runs)
    changed[k + 1] = with_points(runs[k + 1], points)
    held = nets(runs[k])
    return changed, max(held) - min(held)


def blank_of_one(runs: list[Simulated], random: Random) -> Planted:
    """One run read against another blank; size: difference of the two. [g/L]"""
    k, apart = int(random.integers(0, len(runs))), round(2.0 * float(random.uniform(0.5, 4.0))) / 2.0
    points = [replace(p, blank_reading=(p.blank_reading or 0.0) + apart) for p in runs[k].record.readings]
    changed = list(runs)
    changed[k] = with_points(runs[k], points)
    return changed, apart


def warm_cylinder(runs: list[Simulated], random: Random) -> Planted:
    """One temperature of one cylinder wrong; size: by how much. [C]"""
    k, s = int(random.integers(0, len(runs))), int(random.integers(0, len(runs[0].record.readings)))
    wrong, points = float(random.uniform(0.5, 4.0)), list(runs[k].record.readings)
    points[s] = replace(points[s], temperature_c=round(points[s].at_c + wrong, 1))
    changed = list(runs)
    changed[k] = with_points(runs[k], points)
    return changed, wrong


def blank_slot_low(runs: list[Simulated], random: Random) -> Planted:
    """The blank of one slot written too low for every run; size: the average rise this makes. [g/L]"""
    s, low = int(random.integers(1, len(runs[0].record.readings))), float(random.uniform(1.0, 6.0))
    falls = [nets(run)[s - 1] - nets(run)[s] for run in runs]
    changed = []
    for run in runs:
        points = list(run.record.readings)
        points[s] = replace(
            points[s], blank_reading=round(2.0 * ((points[s].blank_reading or 0.0) - low)) / 2.0
        )
        changed.append(with_points(run, points))
    return changed, low - sum(falls) / len(falls)


BATCH_FAULTS = (
    BatchFault("row slip from a slot on", row_slip, "runs_exchanged", 3.0, "g/L"),
    BatchFault("one reading exchanged", one_exchanged, "runs_exchanged", 3.0, "g/L"),
    BatchFault("copied from neighbour", copied, "readings_copied", 3.5, "g/L"),
    BatchFault("another blank for one run", blank_of_one, "blank_apart_from_batch", 2.0, "g/L"),
    BatchFault("one temperature wrong", warm_cylinder, "temperature_apart_from_batch", 1.5, "°C"),
    BatchFault("blank of a slot too low", blank_slot_low, "slot_rises_in_batch", 2.5, "g/L"),
)


def batch_alarms(runs: list[Simulated]) -> set[str]:
    """Codes of the findings on a batch."""
    method = runs[0].method
    known = [BatchRun(run.record, compute_distribution(run.record, method, draws=0)) for run in runs]
    found = (*batch_findings(known, method), *exchanges_by_readings(known, method))
    return {each.finding.code for each in found}


def batch_false_alarms(batches: int, seed: int = 3) -> dict[str, float]:
    """Code -> share of clean batches of eight. [%]"""
    random, count = np.random.default_rng(seed), dict[str, int]()
    for _ in range(batches):
        for code in batch_alarms(clean_batch(random)):
            count[code] = count.get(code, 0) + 1
    return {code: 100.0 * number / batches for code, number in count.items()}


def batch_detection(fault: BatchFault, batches: int, seed: int = 4) -> list[tuple[float, bool]]:
    """(size, whether caught) of every planted fault."""
    random = np.random.default_rng([seed, *fault.name.encode()])
    sizes: list[tuple[float, bool]] = []
    while len(sizes) < batches:
        runs, size = fault.plant(clean_batch(random, 5), random)
        sizes.append((size, fault.caught_by in batch_alarms(runs)))
    return sizes
