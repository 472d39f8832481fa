"""
Points of a chart, judged by the limits that were in force at their time; and limits proposed from points.

A point is judged by the version of its own day, never by a later one. A point that stops a batch counts for no
proposal until somebody has said why it lies there and whether it counts; one that is answered as left out stands on
the chart and no rule looks at it. One of a batch that was re-opened stays, judged as before, and counts for no proposal
until that is settled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.limits.keys import Kind, Quantity
from batches.quality.control_chart import ACTION_SD, ChartLimits, weighted_means, weighted_sd
from batches.quality.robust import algorithm_a
from batches.quality.run_rules import LABORATORY, Fired, Rule, RuleSet, Weight, fired_at
from batches.quality.spread_by_content import spread_by_content
from particles.distribution.inputs.between_run import (
    ACTION_PER_MEAN_RANGE,
    RANGE_PER_SD,
    REPEATABILITY_FACTOR,
)
from particles.distribution.record import SpreadByContent
from particles.distribution.spoken import spoken_count

SAME_SHARE = 1e-9


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of one version, or those a method starts with, in the unit of the values."""

    version: int
    """Primary key of the version; 0 for what the method's edition gives."""
    in_force_from: datetime | None
    centre: float
    spread: SpreadByContent
    low: tuple[float, float]
    """Action, warning."""
    high: tuple[float, float]
    """Warning, action."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What somebody said of a point: whether it counts, and why."""

    counts: bool
    words: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a chart."""

    run: int
    """Primary key of the run it is the figure of: a reference soil's, a duplicate's or the blank's."""
    batch: str
    at: datetime
    value: float
    pair: tuple[float, float] | None = None
    """Both figures of a pair, first portion and duplicate; None for a single value."""
    group: str = ""
    """Hydrometer it was read with."""
    place: int = 0
    """Place in the row of cylinders; 0 for the blank's."""
    why_out: str = ""
    """Why it says nothing of scatter: void, a stop, found in two ways; '' when it does."""
    questioned: str = ""
    """Why it is open again: its batch was re-opened and is not settled; '' when it is not."""
    answer: Answer | None = None
    """What was said of it on this chart; that alone answers for what fired here."""
    answer_beside: Answer | None = None
    """What was said of its run on another chart of the same kind."""
    bound: SpreadByContent | None = None
    """Spread the batch of a pair is computed with; judges it while no version does."""
    bound_by: str = ""
    """Where that spread comes from, in words."""

    @property
    def left_out(self) -> bool:
        """Whether somebody said that it counts for nothing, here or, with no word here, on the chart beside it."""
        said = self.answer or self.answer_beside
        return said is not None and not said.counts


@dataclass(frozen=True, slots=True)
class Judged:
    """One point with the limits of its day and the rules that fired at it."""

    point: Point
    limits: Limits | None
    z: float | None
    """Distance from the centre in standard deviations; None without limits, and for pairs. [-]"""
    fired: tuple[Fired, ...]
    weighted_mean: float | None = None
    """Exponentially weighted mean up to here since its version came into force, in the unit of the values."""

    @property
    def weight(self) -> str:
        """The heaviest of what fired: stop, warn or ''."""
        weights = {each.rule.weight for each in self.fired}
        return next((str(w) for w in (Weight.STOP, Weight.WARN) if w in weights), "")

    @property
    def waits_for_answer(self) -> bool:
        """Whether it lies where it stops a batch and nobody has said why."""
        return self.weight == Weight.STOP and self.point.answer is None and not self.point.why_out

    @property
    def counts(self) -> bool:
        """Whether it counts for limits to come."""
        if self.point.why_out or self.point.questioned or self.waits_for_answer:
            return False
        return not self.point.left_out


DRIFT = Rule("ewma", "weighted mean beyond its limits: a slow move", Weight.WARN, lambda z: False)
"""Fires on the weighted mean, not on the points themselves."""
EWMA_SOURCE = (
    "exponentially weighted mean, weight 0.2, 3 standard deviations: NIST/SEMATECH e-Handbook, 6.3.2.4"
)
BEYOND_WARNING, BEYOND_ACTION = 1.0, 2.0
"""What stands in the series of a range chart for a pair beyond its warning or its action limit. [-]"""
PAIR_ACTION = Rule(
    "pair_action", "a pair beyond the action limit", Weight.STOP, lambda z: z[-1] >= BEYOND_ACTION
)
PAIR_WARN = Rule(
    "pair_warn", "a pair beyond the repeatability limit", Weight.WARN, lambda z: z[-1] == BEYOND_WARNING
)
PAIRS = RuleSet(
    "range-of-two",
    "range chart of two: 2.8 and 3.69 (D4 d2) standard deviations of one run (common practice, decision 0007)",
    (PAIR_ACTION, PAIR_WARN),
)
"""Run rules mislead on ranges, whose neighbours hang together, so only single pairs are judged (statistics package
user's guide, interpreting charts for individual measurements and moving ranges)."""


def limits_of(
    quantity: Quantity, centre: float, spread: SpreadByContent
) -> tuple[float, float, float, float]:
    """Action and warning limits below, warning and action limits above the centre, in the unit of the values."""
    if quantity.kind is Kind.DUPLICATES:
        at_middle = spread.at(50.0)
        return 0.0, 0.0, REPEATABILITY_FACTOR * at_middle, ACTION_PER_MEAN_RANGE * RANGE_PER_SD * at_middle
    chart = ChartLimits(centre, spread.level_pct)
    return chart.action[0], chart.warn[0], chart.warn[1], chart.action[1]


def centre_of_pairs(spread: SpreadByContent) -> float:
    """Mean difference of a pair at 50 %. [percentage points]"""
    return RANGE_PER_SD * spread.at(50.0)


def version_at(versions: Sequence[Limits], at: datetime) -> Limits | None:
    """The newest version in force at a moment; None before the first."""
    return next(
        (v for v in reversed(versions) if v.in_force_from is not None and v.in_force_from <= at), None
    )


def judge(points: Sequence[Point], versions: Sequence[Limits], quantity: Quantity) -> list[Judged]:
    """
    Points, the oldest first, each judged by the version of its own time and the points before it.

    Parameters
    ----------
    versions : in the order in which they were entered.
    """
    if quantity.kind is Kind.DUPLICATES:
        return [_judged_pair(point, versions) for point in points]
    series: list[tuple[int, float]] = []
    found = []
    for point in points:
        limits = version_at(versions, point.at)
        if limits is None:
            found.append(Judged(point, None, None, ()))
            continue
        z = ChartLimits(limits.centre, limits.spread.level_pct).z(point.value)
        so_far = [*series, (limits.version, z)]
        found.append(_judged(point, limits, z, so_far))
        if not point.why_out and not point.left_out:
            series = so_far
    return found


def _judged(point: Point, limits: Limits, z: float, so_far: Sequence[tuple[int, float]]) -> Judged:
    """One point with what fires on the series that ends with it."""
    of_version = [each for version, each in so_far if version == limits.version]
    mean_z = weighted_means(of_version, start=0.0)[-1]
    fired = fired_at([each for _, each in so_far], LABORATORY)
    if abs(mean_z) > ACTION_SD * weighted_sd(1.0, points=len(of_version)) and len(of_version) > 1:
        fired.append(Fired(DRIFT, EWMA_SOURCE, len(so_far) - 1))
    return Judged(point, limits, z, tuple(fired), limits.centre + mean_z * limits.spread.level_pct)


def _judged_pair(point: Point, versions: Sequence[Limits]) -> Judged:
    limits = version_at(versions, point.at)
    spread = point.bound if limits is None else limits.spread
    if spread is None or point.pair is None:
        return Judged(point, limits, None, ())
    sd = spread.at(sum(point.pair) / 2)
    beyond = BEYOND_ACTION if point.value > ACTION_PER_MEAN_RANGE * RANGE_PER_SD * sd else BEYOND_WARNING
    level = beyond if point.value > REPEATABILITY_FACTOR * sd else 0.0
    return Judged(point, limits, None, tuple(fired_at([level], PAIRS)))


@dataclass(frozen=True, slots=True)
class Proposal:
    """Limits that the points of a chart give, for a person to enter; nothing is in force by it."""

    centre: float
    sd: float
    rise: float
    runs: tuple[int, ...]
    words: str
    why_not: str = ""
    """Why these cannot be entered as they are; '' when they can."""

    @property
    def spread(self) -> SpreadByContent:
        """Spread of one point as a function of content."""
        return SpreadByContent(self.sd, self.rise)


def propose(judged: Sequence[Judged], quantity: Quantity) -> Proposal | str:
    """Limits from the points that count, or a sentence why there are none."""
    counted = [each.point for each in judged if each.counts]
    waiting = sum(each.waits_for_answer for each in judged)
    questioned = sum(bool(each.point.questioned) for each in judged)
    told = f" {spoken_count(waiting, 'point waits', 'points wait')} for an answer." if waiting else ""
    told += (
        f" {spoken_count(questioned, 'point belongs', 'points belong')} to a batch that is re-opened."
        if questioned
        else ""
    )
    days = {point.at.date() for point in counted}
    if quantity.kind is not Kind.DUPLICATES and len(days) < quantity.least_points:
        return (
            f"Points that count: {len(counted)}, of {spoken_count(len(days), 'day')}. Limits are proposed from "
            f"{quantity.least_points} different days on.{told}"
        )
    if len(counted) < quantity.least_points:
        return (
            f"Points that count: {len(counted)}. Limits are proposed from {quantity.least_points} on.{told}"
        )
    return _proposed(counted, quantity, told)


def _proposed(counted: Sequence[Point], quantity: Quantity, told: str) -> Proposal | str:
    runs = tuple(point.run for point in counted)
    if quantity.kind is Kind.DUPLICATES:
        spread = spread_by_content([point.pair for point in counted if point.pair is not None])
        centre, by = centre_of_pairs(spread), "algorithm S on the differences"
        if spread.rise_pct:
            by += f"; the spread rises with content, {spread.at(5.0):.2f} at 5 % and {spread.at(50.0):.2f} at 50 %"
    else:
        robust = algorithm_a([point.value for point in counted])
        centre, spread, by = robust.mean, SpreadByContent(robust.sd), "algorithm A on the values"
    if spread.at(50.0) <= SAME_SHARE:
        return f"The {len(counted)} points that count are all equal; that is no scatter. Were they copied?"
    most = quantity.most_plausible_sd
    why_not = (
        f"A standard deviation of {spread.at(50.0):.2f} is more than scatter can be ({most:g}). Look for the cause."
        if spread.at(50.0) > most
        else ""
    )
    words = f"from {len(counted)} points by {by}.{told}"
    return Proposal(centre, spread.level_pct, spread.rise_pct, runs, words, why_not)
