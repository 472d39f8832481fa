"""Pairs of duplicates that count and what they say of the laboratory: arithmetic on plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from particles.distribution import between_run_sd_from_duplicates
from particles.distribution.inputs.between_run import LEAST_PAIRS

MOST_PLAUSIBLE_SD_PCT = 10
"""Beyond it something else than scatter between runs was measured. [percentage points]"""


COMPARED = ("sand", "clay")


@dataclass(frozen=True)
class StandingPair:
    """Two runs of one sample in one approved batch, from the results in force. [%]"""

    lab_number: str
    batch_number: str
    approved_at: datetime
    first_run: int
    duplicate_run: int
    sand_pct: tuple[float, float]
    clay_pct: tuple[float, float]

    def of(self, fraction: str) -> tuple[float, float]:
        """The figures of one fraction of `COMPARED`: first portion, duplicate. [%]"""
        return {"sand": self.sand_pct, "clay": self.clay_pct}[fraction]

    @property
    def sand_difference_pct(self) -> float:
        """Difference in sand, without sign. [percentage points]"""
        return abs(self.sand_pct[0] - self.sand_pct[1])

    @property
    def clay_difference_pct(self) -> float:
        """Difference in clay, without sign. [percentage points]"""
        return abs(self.clay_pct[0] - self.clay_pct[1])


@dataclass(frozen=True)
class LeftOutPair:
    """One pair of an approved batch that does not count, and why."""

    lab_number: str
    batch_number: str
    duplicate_run: int
    why: str


@dataclass(frozen=True)
class OwnSpread:
    """The laboratory's own between-run standard deviations. [percentage points]"""

    sand_pct: float
    clay_pct: float
    pairs: int

    @property
    def of(self) -> str:
        """The fraction whose figure is the larger; both fractions are computed with that figure."""
        return "clay" if self.clay_pct >= self.sand_pct else "sand"

    @property
    def sd_pct(self) -> Decimal:
        """The larger of the two figures, rounded to three decimals. [percentage points]"""
        return Decimal(str(round(max(self.sand_pct, self.clay_pct), 3)))


def spread_of(pairs: Sequence[StandingPair]) -> OwnSpread | None:
    """The spread from pairs; None with too few of them, or when it is zero or implausibly large."""
    if len(pairs) < LEAST_PAIRS:
        return None
    (sand, n), (clay, _) = (
        between_run_sd_from_duplicates([pair.sand_pct for pair in pairs]),
        between_run_sd_from_duplicates([pair.clay_pct for pair in pairs]),
    )
    spread = OwnSpread(sand, clay, n)
    return spread if 0 < spread.sd_pct <= MOST_PLAUSIBLE_SD_PCT else None
