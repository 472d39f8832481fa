"""
Number of draws that is enough: blocks until what is printed no longer moves.

Source
------
[1] JCGM 101:2008 (GUM Supplement 1), clauses 7.9.2 to 7.9.4, from memory: blocks of 10 000; stop once, for
    estimate, standard uncertainty and both interval ends, twice the standard deviation of the average over
    blocks lies below half a unit of the last wanted digit of the standard uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, log10, sqrt

import numpy as np

from particles.distribution.errors import DigitsOutOfRangeError
from particles.distribution.uncertainty.drawn_curve import Floats

BLOCK_DRAWS = 10_000
"""Draws in one block, source [1] 7.9.4."""
MOST_DRAWS = 1_000_000
"""Draws after which the adaptive rule gives up."""
NOTHING = 1e-9
"""Change that no print shows: rounding in figures that have no uncertainty at all."""
LEAST_BLOCKS = 5
"""Blocks before which the spread over blocks is known too badly to stop by: two may agree by chance."""
DIGITS_FROM_TO = (1, 3)
"""Significant digits that the draws can settle before MOST_DRAWS."""
COVERAGE_PCT = (2.5, 97.5)
"""Percentiles at the ends of a 95 % interval, half of what is left out on either side; JCGM 101:2008."""


def refuse_digits(digits: int) -> None:
    """Raise DigitsOutOfRangeError for a number of digits outside 1 to 3."""
    low, high = DIGITS_FROM_TO
    if not low <= digits <= high:
        raise DigitsOutOfRangeError(
            "Significant digits of the uncertainty outside what the draws can settle",
            f"{digits}",
            f"Ask for {low} to {high}; two are usual.",
        )


def numerical_tolerance(standard_uncertainty: float, digits: int) -> float:
    """
    Half a unit of the last of `digits` significant digits, source [1] 7.9.2; same unit as the uncertainty.

    >>> numerical_tolerance(1.74, 2)
    0.05
    """
    if standard_uncertainty <= 0.0:
        return 0.0
    last = floor(log10(standard_uncertainty)) - digits + 1
    # Rounding up, as of 9.96 to 10, adds a digit before the point.
    if round(standard_uncertainty / 10.0**last) >= 10**digits:
        last += 1
    return 10.0**last / 2.0


class Stability:
    """Estimate, standard uncertainty and interval ends of every block so far, for several outputs."""

    def __init__(self, digits: int) -> None:
        refuse_digits(digits)
        self.digits = digits
        self.blocks: list[Floats] = []

    def add(self, outputs: Floats) -> None:
        """Take in one more block, (outputs, draws), always of the same size."""
        ends = np.percentile(outputs, COVERAGE_PCT, axis=1)
        self.blocks.append(np.stack([outputs.mean(axis=1), outputs.std(axis=1, ddof=1), *ends]))

    def reached(self) -> bool:
        """Whether every figure of every output holds still, source [1] 7.9.4."""
        if len(self.blocks) < LEAST_BLOCKS:
            return False
        figures = np.stack(self.blocks)
        moves = 2.0 * figures.std(axis=0, ddof=1) / sqrt(len(self.blocks))
        variances = (figures[:, 1] ** 2).mean(axis=0) + figures[:, 0].var(axis=0)
        tolerances = [numerical_tolerance(sqrt(variance), self.digits) for variance in variances]
        return all(
            bool((move < max(tolerance, NOTHING)).all())
            for move, tolerance in zip(moves.T, tolerances, strict=True)
        )


def block_sizes(draws: int, stability: Stability | None) -> Iterator[int]:
    """Sizes of the blocks to draw: `draws` in all, or, with `stability`, until it is reached or MOST_DRAWS."""
    left = draws if stability is None else MOST_DRAWS
    while left > 0 and not (stability is not None and stability.reached()):
        yield min(left, BLOCK_DRAWS)
        left -= BLOCK_DRAWS
