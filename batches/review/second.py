"""The stored figures beside those of a calculation that shares no arithmetic with the worker's."""

from __future__ import annotations

from dataclasses import dataclass

from particles.distribution import MethodEdition, RunRecord, SizeDistribution
from particles.second.independent import NotCoveredError, Recalculation, recalculate

AGREES_WITHIN_PCT = 1e-6
"""More than the last binary digits of two ways of writing one formula, far less than anything printed."""


@dataclass(frozen=True)
class Pair:
    """One figure twice; None where that calculation has none. [%]"""

    name: str
    stored_pct: float | None
    second_pct: float | None

    @property
    def difference_pct(self) -> float | None:
        """Difference between the two figures; None where one is missing. [percentage points]"""
        if self.stored_pct is None or self.second_pct is None:
            return None
        return abs(self.stored_pct - self.second_pct)

    @property
    def agrees(self) -> bool:
        """Whether the two figures are equal within `AGREES_WITHIN_PCT`, or both missing."""
        if self.stored_pct is None and self.second_pct is None:
            return True
        return self.difference_pct is not None and self.difference_pct <= AGREES_WITHIN_PCT

    @property
    def in_words(self) -> str:
        """Both figures with six decimals, in words."""
        stored, second = (
            "no figure" if v is None else f"{v:.6f} %" for v in (self.stored_pct, self.second_pct)
        )
        return f"{self.name} {stored} here and {second} there"


@dataclass(frozen=True)
class SecondCalculation:
    """The stored figures of one run beside those calculated again."""

    pairs: tuple[Pair, ...] = ()
    not_covered: str = ""
    """Why there is no second calculation; '' when there is one."""

    @property
    def differs(self) -> bool:
        """Whether any figure differs from the stored one."""
        return any(not pair.agrees for pair in self.pairs)

    @property
    def largest_difference_pct(self) -> float:
        """Largest difference over all figures that both calculations have. [percentage points]"""
        return max(
            (pair.difference_pct for pair in self.pairs if pair.difference_pct is not None), default=0.0
        )

    @property
    def sentence(self) -> str:
        """The comparison as a sentence; what differs is named with both figures."""
        if self.not_covered:
            return f"No second calculation: {self.not_covered}"
        if not self.differs:
            return f"Second calculation: agrees to {self.largest_difference_pct:.6f} points."
        differing = "; ".join(pair.in_words for pair in self.pairs if not pair.agrees)
        return f"The second calculation differs by {self.largest_difference_pct:.6f} points: {differing}."


def second_calculation(
    record: RunRecord, method: MethodEdition, stored: SizeDistribution
) -> SecondCalculation:
    """Sand, silt and clay calculated again; for a run without them, every point of its curve."""
    try:
        again = recalculate(record, method)
    except NotCoveredError as error:
        return SecondCalculation(not_covered=str(error))
    return SecondCalculation(pairs=_parts(stored, again) if method.certifiable else _points(stored, again))


def _parts(stored: SizeDistribution, again: Recalculation) -> tuple[Pair, ...]:
    mine = stored.fractions
    if mine is None and None in (again.sand_pct, again.clay_pct):
        return _points(stored, again)
    return (
        Pair("sand", None if mine is None else mine.sand.value_pct, again.sand_pct),
        Pair("silt", None if mine is None else mine.silt.value_pct, again.silt_pct),
        Pair("clay", None if mine is None else mine.clay.value_pct, again.clay_pct),
    )


def _points(stored: SizeDistribution, again: Recalculation) -> tuple[Pair, ...]:
    mine = {point.reading_index: point.percent_finer for point in stored.points}
    theirs = {point.reading_index: point.percent_finer for point in again.points}
    return tuple(
        Pair(f"percent finer by reading {index + 1}", mine.get(index), theirs.get(index))
        for index in sorted({*mine, *theirs})
    )
