"""
How many wrong values the tablet asks about before they are kept, and how many right ones, over invented batches.

`python -m tests.support.asked_at_entry --batches N --seed S [--json]`. Soils and noise are the simulator's, which
knows nothing of the soils that the band is made of. Faults: a value from another cylinder, two digits in the other
order, a value of the next cylinder in the list (a slipped row). A fault that leaves the value as it is counts as none.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from particles.distribution.advice.expected_reading import expected_band, whole_reading
from particles.distribution.record import HydrometerScale
from tests.support.simulator import DIVISION_G_L, Simulated, clean_run, loess, random_bench

CYLINDERS = 12
LARGE_G_L = 2.5
STEM_G_L = (-5.0, 60.0)
JUMP_C = 2.0
"""As `TEMPERATURE_JUMP_C` in checks.js."""
PLACES = ("first", "second", "later")
SOILS = {"usual": None, "loess": loess}


@dataclass
class Asked:
    """Asked about and in all, by what was asked."""

    asked: Counter[tuple[str, ...]] = field(default_factory=Counter)
    of: Counter[tuple[str, ...]] = field(default_factory=Counter)

    def count(self, is_asked: bool, *keys: tuple[str, ...]) -> None:
        for key in keys:
            self.asked[key] += is_asked
            self.of[key] += 1

    def share_pct(self, *key: str) -> float:
        """Share that was asked about. [%]"""
        return 100.0 * self.asked[key] / self.of[key]


def is_asked(run: Simulated, k: int, reading: float) -> bool:
    """Whether the tablet asks about a value typed for the reading k of a run."""
    points = run.record.readings
    blank = points[k].blank_reading or 0.0
    before = [(p.elapsed_s, (p.reading or 0.0) - (p.blank_reading or 0.0)) for p in points[:k]]
    whole = whole_reading(HydrometerScale.GRAMS_PER_LITRE, run.record.air_dry_mass_g or 0.0, 1000.0)
    band = expected_band(run.method.schedule_s, whole, DIVISION_G_L, before, points[k].elapsed_s)
    rises = k > 0 and reading > (points[k - 1].reading or 0.0) + DIVISION_G_L
    off_stem = not STEM_G_L[0] <= reading <= STEM_G_L[1]
    return rises or off_stem or not blank + band.low <= reading <= blank + band.high


def jumps(batch: list[Simulated], i: int, k: int) -> bool:
    """Whether the tablet asks about the temperature: off this cylinder's last and the last one of the batch."""
    points = batch[i].record.readings
    last_c = [points[k - 1].at_c] if k else []
    neighbour_c = [batch[i - 1].record.readings[k].at_c] if i else []
    return bool(last_c) and all(abs(points[k].at_c - c) > JUMP_C for c in last_c + neighbour_c)


def wrong_values(
    batch: list[Simulated], i: int, k: int, random: np.random.Generator
) -> Iterator[tuple[str, float]]:
    """(fault, value) of what could stand in place of the reading k of the cylinder i."""
    other = (i + int(random.integers(1, len(batch)))) % len(batch)
    yield "wrong cylinder", batch[other].record.readings[k].reading or 0.0
    right = f"{batch[i].record.readings[k].reading:04.1f}"
    swapped = right[1] + right[0] + right[2:] if random.random() < 0.5 else f"{right[0]}{right[3]}.{right[1]}"
    if "-" not in right:
        yield "transposed digits", float(swapped)
    yield "slipped row", batch[(i + 1) % len(batch)].record.readings[k].reading or 0.0


def measure(batches: int, seed: int, kind: str = "usual") -> Asked:
    """What is asked over so many batches of a kind of soil."""
    random, counted, make = np.random.default_rng([seed, *kind.encode()]), Asked(), SOILS[kind]
    for _ in range(batches):
        bench = random_bench(random)
        batch = [clean_run(random, make(random) if make else None, bench) for _ in range(CYLINDERS)]
        for i, run in enumerate(batch):
            for k, point in enumerate(run.record.readings):
                right, place = point.reading or 0.0, PLACES[min(k, 2)]
                counted.count(is_asked(run, k, right) or jumps(batch, i, k), ("false",), ("false", place))
                for fault, value in wrong_values(batch, i, k, random):
                    moved = abs(value - right)
                    if moved == 0.0:
                        continue
                    keys = [(fault, "any")]
                    if moved >= LARGE_G_L:
                        keys += [
                            (fault, "large"),
                            (fault, place),
                            ("every fault", "large"),
                            ("every fault", place),
                        ]
                    counted.count(is_asked(run, k, value), *keys)
    return counted


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--batches", type=int, default=100)
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    found = {kind: measure(given.batches, given.seed, kind) for kind in SOILS}
    if given.json:
        rows = {k: {" ".join(key): f.share_pct(*key) for key in sorted(f.of)} for k, f in found.items()}
        print(json.dumps(rows, indent=2))
        return
    for kind, counted in found.items():
        print(f"{kind} soils, {given.batches} batches, seed {given.seed}: asked about, percent")
        for key in sorted(counted.of):
            print(f"  {' '.join(key):32} {counted.share_pct(*key):6.1f} of {counted.of[key]}")


if __name__ == "__main__":
    main()
