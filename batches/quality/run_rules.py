"""
Rules for a series of points on a control chart, in three named sets, and how their edge cases are read.

Chosen readings, where texts differ:
- `beyond` is strict: a point on a limit is not beyond it. `within` is its opposite, so a point on the limit is within.
- A point on the centre line ends a run on one side; two equal neighbours end a trend and an alternation.
- "Six rising" means six points, five rises.
- A pattern of k among n fires at a point that is itself one of the k; the others lie anywhere among the n - 1 before.
- A rule fires anew at every point that completes its pattern, so a long run fires many times.
- "One above +2 s and one below -2 s" is asked of two neighbours on one chart.

Points are given as distances from the centre in standard deviations. [-]
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

Z = Sequence[float]


class Weight(StrEnum):
    """What a rule asks for when it fires."""

    WARN = "warn"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: whether the last point of a series completes its pattern."""

    code: str
    name: str
    weight: Weight
    fires: Callable[[Z], bool]


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules that are used together, and the source that lists them so."""

    code: str
    source: str
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Fired:
    """One rule that fired at one point of a series."""

    rule: Rule
    source: str
    place: int
    """Place of the point in the series, the first being 0."""


def _same_side(window: Z) -> bool:
    return all(z > 0 for z in window) or all(z < 0 for z in window)


def beyond(sds: float) -> Callable[[Z], bool]:
    """One point beyond so many standard deviations."""
    return lambda z: abs(z[-1]) > sds


def among(k: int, n: int, sds: float) -> Callable[[Z], bool]:
    """K of n neighbours beyond so many standard deviations on one side, the last point being one of them."""

    def fires(z: Z) -> bool:
        side = 1 if z[-1] > 0 else -1
        return side * z[-1] > sds and sum(side * each > sds for each in z[-n:]) >= k

    return fires


def run_of(n: int) -> Callable[[Z], bool]:
    """So many neighbours on one side of the centre."""
    return lambda z: len(z) >= n and _same_side(z[-n:])


def trend_of(n: int) -> Callable[[Z], bool]:
    """So many points steadily rising or steadily falling."""
    return lambda z: len(z) >= n and _same_side([b - a for a, b in pairwise(z[-n:])])


def alternating(n: int) -> Callable[[Z], bool]:
    """So many points going up and down by turns."""

    def fires(z: Z) -> bool:
        steps = [b - a for a, b in pairwise(z[-n:])]
        return len(z) >= n and all(a * b < 0 for a, b in pairwise(steps))

    return fires


def within(n: int, sds: float) -> Callable[[Z], bool]:
    """So many neighbours within so many standard deviations, on either side."""
    return lambda z: len(z) >= n and all(abs(each) <= sds for each in z[-n:])


def outside(n: int, sds: float) -> Callable[[Z], bool]:
    """So many neighbours beyond so many standard deviations, on either side."""
    return lambda z: len(z) >= n and all(abs(each) > sds for each in z[-n:])


def opposite(sds: float) -> Callable[[Z], bool]:
    """Two neighbours, one above the upper and one below the lower of two limits."""
    return lambda z: len(z) >= 2 and min(z[-2:]) < -sds and max(z[-2:]) > sds


BEYOND_3 = Rule("1of1_3s", "one point beyond 3 standard deviations", Weight.STOP, beyond(3))
TWO_OF_THREE = Rule(
    "2of3_2s", "two of three beyond 2 standard deviations on one side", Weight.STOP, among(2, 3, 2)
)
FOUR_OF_FIVE = Rule(
    "4of5_1s", "four of five beyond 1 standard deviation on one side", Weight.STOP, among(4, 5, 1)
)
RUN_8 = Rule("run8", "eight in a row on one side", Weight.WARN, run_of(8))
RUN_9 = Rule("run9", "nine in a row on one side", Weight.WARN, run_of(9))
RUN_10 = Rule("run10", "ten in a row on one side", Weight.WARN, run_of(10))
TREND_6 = Rule("trend6pts", "six points steadily rising or falling", Weight.WARN, trend_of(6))
ALTERNATING_14 = Rule("alt14", "fourteen points up and down by turns", Weight.WARN, alternating(14))
WITHIN_15 = Rule("in15_1s", "fifteen in a row within 1 standard deviation", Weight.WARN, within(15, 1))
OUTSIDE_8 = Rule(
    "out8_1s", "eight in a row beyond 1 standard deviation on either side", Weight.WARN, outside(8, 1)
)
BEYOND_2 = Rule("1of1_2s", "one point beyond 2 standard deviations", Weight.WARN, beyond(2))
TWO_IN_A_ROW = Rule(
    "2of2_2s", "two in a row beyond 2 standard deviations on one side", Weight.STOP, among(2, 2, 2)
)
OPPOSITE = Rule("R4s", "neighbours beyond 2 standard deviations on opposite sides", Weight.STOP, opposite(2))
FOUR_IN_A_ROW = Rule(
    "4of4_1s", "four in a row beyond 1 standard deviation on one side", Weight.STOP, among(4, 4, 1)
)

ZONES = RuleSet("zones-1956", "zone rules of 1956", (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, RUN_8))
EIGHT_TESTS = RuleSet(
    "tests-1984",
    "eight tests for special causes, Journal of Quality Technology 16(4), 1984, 237-239",
    (BEYOND_3, RUN_9, TREND_6, ALTERNATING_14, TWO_OF_THREE, FOUR_OF_FIVE, WITHIN_15, OUTSIDE_8),
)
LABORATORY = RuleSet(
    "laboratory-multirule",
    "several rules in one, as laboratories use them: pmc.ncbi.nlm.nih.gov/articles/PMC3909142, table 1",
    (BEYOND_3, TWO_IN_A_ROW, OPPOSITE, FOUR_IN_A_ROW, RUN_10, BEYOND_2),
)
"""The set this program judges batches by: its rules either stop a batch or warn. A bias seen as ten on one side is
acted upon and does not stop a batch within its limits (*common practice*)."""


def fired_at(z: Z, rules: RuleSet) -> list[Fired]:
    """Rules of a set that fire at the last point of a series, in the order of the set."""
    return [Fired(rule, rules.source, len(z) - 1) for rule in rules.rules if z and rule.fires(z)]


def fired(z: Z, rules: RuleSet) -> list[Fired]:
    """
    Rules of a set that fire anywhere in a series, point by point.

    >>> [(each.rule.code, each.place) for each in fired([0.2, -0.4, 3.1, 0.1], LABORATORY)]
    [('1of1_3s', 2), ('1of1_2s', 2)]
    """
    return [each for end in range(1, len(z) + 1) for each in fired_at(z[:end], rules)]
