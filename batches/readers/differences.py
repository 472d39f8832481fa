"""
How far the readers of a laboratory lie apart, from readings taken twice by two people: arithmetic on plain values.

A reader's shift is found so that one person who reads high does not make all others seem to read low: shifts are
fitted to all comparisons at once, slips pulled in, and counted from the middle reader's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median, stdev

from batches.quality.robust import Robust, algorithm_a
from batches.readers.choice import LIMIT_G_L

STEP_G_L = 0.5
"""A hydrometer is read to half a gram per litre. *Common practice*. [g/L]"""
REACH_G_L = 1.5 * STEP_G_L
"""Farther from the middle a difference counts as if it lay there. [g/L]"""
LEAST_COMPARISONS = 8
"""Fewer say too little of one reader: the spread itself is then known to a quarter. *Common practice*."""
LEAST_SHIFT_G_L = STEP_G_L / 2
"""A shift below half a graduation is not seen on the stem. [g/L]"""
SHIFT_SDS = 2.0
"""A shift counts from so many of its standard uncertainties on. [-]"""
ROBUST_MEAN_FACTOR = 1.25
"""Standard uncertainty of a robust mean: 1.25 s*/√n. *From memory*, ISO 13528. [-]"""
ROUNDS = 200
MOVED_G_L = 1e-4


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two people's readings of one slot; `difference_g_l` is second less first. [g/L]"""

    first: str
    second: str
    difference_g_l: float


@dataclass(frozen=True, slots=True)
class ReaderDifference:
    """One reader against those they read with. [g/L]"""

    reader: str
    number: int
    mean_g_l: float
    """Robust mean of their readings less the other person's."""
    sd_g_l: float
    """Robust standard deviation of those differences; nan with one."""
    shift_g_l: float
    """From the middle of all readers, fitted to all comparisons."""
    shift_uncertainty_g_l: float
    """Standard uncertainty of the shift; nan with one."""
    beyond: int
    """How many differ by more than people may."""
    others: int
    """With how many other people."""

    @property
    def how_far_g_l(self) -> float:
        """The shift without its sign. [g/L]"""
        return abs(self.shift_g_l)

    @property
    def is_shifted(self) -> bool:
        """Whether the reader reads constantly higher or lower than the others."""
        enough = self.number >= LEAST_COMPARISONS and abs(self.shift_g_l) >= LEAST_SHIFT_G_L
        return enough and abs(self.shift_g_l) > SHIFT_SDS * self.shift_uncertainty_g_l


def reader_differences(comparisons: Sequence[Comparison]) -> list[ReaderDifference]:
    """Each reader against the others, the one who lies farthest off first."""
    seen: dict[str, list[tuple[str, float]]] = {}
    for each in comparisons:
        seen.setdefault(each.second, []).append((each.first, each.difference_g_l))
        seen.setdefault(each.first, []).append((each.second, -each.difference_g_l))
    shifts = _shifts(seen)
    found = [_reader(name, against, shifts) for name, against in seen.items()]
    return sorted(found, key=lambda each: (-abs(each.shift_g_l), each.reader))


def _reader(name: str, against: list[tuple[str, float]], shifts: dict[str, float]) -> ReaderDifference:
    differences = [difference for _, difference in against]
    of_pairs, of_shift = (
        middle_of(differences),
        middle_of([difference + shifts[other] for other, difference in against]),
    )
    return ReaderDifference(
        reader=name,
        number=len(differences),
        mean_g_l=of_pairs.mean,
        sd_g_l=of_pairs.sd,
        shift_g_l=shifts[name],
        shift_uncertainty_g_l=ROBUST_MEAN_FACTOR * of_shift.sd / sqrt(len(differences)),
        beyond=sum(abs(difference) > LIMIT_G_L for difference in differences),
        others=len({other for other, _ in against}),
    )


def middle_of(values: Sequence[float]) -> Robust:
    """
    Robust mean and spread of differences read in whole graduations.

    Where more than half of them are equal, algorithm A sees no spread at all; then values farther than 1.5 graduations
    from the middle are pulled in to that distance, once.

    >>> middle_of([0.0, 0.0, 0.0, 0.5, 0.5]).mean, round(middle_of([0.0] * 5 + [9.0]).mean, 3)
    (0.2, 0.125)
    """
    if len(values) == 1:
        return Robust(values[0], float("nan"))
    found = algorithm_a(values)
    if found.sd > 0:
        return found
    middle = median(values)
    pulled = [middle + _pulled(value - middle) for value in values]
    return Robust(fmean(pulled), stdev(pulled))


def _shifts(seen: dict[str, list[tuple[str, float]]]) -> dict[str, float]:
    """
    Shifts that explain the comparisons, one reader after the other until nothing moves, counted from the middle one.

    What is left of a difference counts up to 1.5 graduations: a slip of the pen pulls no farther.
    """
    shifts = dict.fromkeys(sorted(seen), 0.0)
    for _ in range(ROUNDS):
        moved = 0.0
        for name in shifts:
            left = fmean(_pulled(each + shifts[other] - shifts[name]) for other, each in seen[name])
            shifts[name] += left / 2
            moved = max(moved, abs(left))
        if moved <= MOVED_G_L:
            break
    middle = median(shifts.values()) if shifts else 0.0
    return {name: shift - middle for name, shift in shifts.items()}


def _pulled(left_g_l: float) -> float:
    return min(max(left_g_l, -REACH_G_L), REACH_G_L)
