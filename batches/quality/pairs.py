"""A first portion and its duplicate side by side: their differences, and what those ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from batches.computing.models import Flag, Result, result_in_force
from batches.planning.models import Batch, Run
from batches.quality.models import PairReview
from batches.quality.statistics import COMPARED
from particles.distribution import Finding, Fractions, Severity, finding
from particles.distribution.inputs.between_run import pair_limits
from particles.distribution.record import SpreadByContent

DUPLICATE_OUTSIDE_LIMIT = "duplicate_outside_limit"


@dataclass(frozen=True)
class Difference:
    """One fraction of both runs of a pair, with their difference. [%]"""

    name: str
    first_pct: float
    duplicate_pct: float
    spread: SpreadByContent
    """Spread between runs that the limits come from."""

    @property
    def difference_pct(self) -> float:
        """Difference between the two runs, without sign. [percentage points]"""
        return abs(self.first_pct - self.duplicate_pct)

    @property
    def sd_pct(self) -> float:
        """Standard deviation of one run at the mean of both. [percentage points]"""
        return self.spread.at((self.first_pct + self.duplicate_pct) / 2)

    @property
    def warn_pct(self) -> float:
        """Repeatability limit of the difference. [percentage points]"""
        return pair_limits(self.sd_pct).warn_pct

    @property
    def stop_pct(self) -> float:
        """Action limit of the difference. [percentage points]"""
        return pair_limits(self.sd_pct).stop_pct


@dataclass(frozen=True)
class Pair:
    """The runs of a first portion and of its duplicate, from the results in force."""

    first: Run
    duplicate: Run
    first_result: Result | None
    duplicate_result: Result | None
    batch: Batch
    """Its batch, whose own spreads give the limits."""

    @property
    def why_not(self) -> str:
        """The reason why there is nothing to compare; '' when there is."""
        first, second = (_fractions(r) for r in (self.first_result, self.duplicate_result))
        if self.first_result is None or self.duplicate_result is None:
            return "not computed yet"
        if first is None or second is None:
            return "a run has no figures at size limits"
        if first.sand_by != second.sand_by:
            return f"sand by {first.sand_by} in the first and by {second.sand_by} in the duplicate"
        return ""

    @property
    def differences(self) -> list[Difference]:
        """Differences of the fractions in `COMPARED`; empty when there is nothing to compare."""
        first, second = (_fractions(r) for r in (self.first_result, self.duplicate_result))
        if self.why_not or first is None or second is None:
            return []
        return [
            Difference(
                n,
                getattr(first, n).value_pct,
                getattr(second, n).value_pct,
                self.batch.between_run_in_force(n),
            )
            for n in COMPARED
        ]

    @property
    def widest(self) -> Difference | None:
        """The difference that is largest for its limits; None when there is none."""
        return max(self.differences, key=lambda each: each.difference_pct / each.warn_pct, default=None)

    @property
    def severity(self) -> str:
        """Severity of the widest difference: warn past the repeatability limit, stop past the action limit, else ''."""
        widest = self.widest
        if widest is None or widest.difference_pct <= widest.warn_pct:
            return ""
        return str(Flag.Severity.STOP if widest.difference_pct > widest.stop_pct else Flag.Severity.WARN)

    @property
    def found(self) -> Finding | None:
        """The finding about the widest difference, for reviewer and certificate; None within the limits."""
        if self.widest is None or not self.severity:
            return None
        stop = self.severity == Flag.Severity.STOP
        return finding(
            DUPLICATE_OUTSIDE_LIMIT,
            variant="action" if stop else "repeatability",
            severity=Severity(self.severity),
            number=self.widest.difference_pct,
            fraction=self.widest.name,
            limit_pct=self.widest.stop_pct if stop else self.widest.warn_pct,
        )

    @property
    def sentence(self) -> str:
        """The sentence of the finding; '' within the limits."""
        return "" if self.found is None else self.found.sentence

    @property
    def next_step(self) -> str:
        """The next step the finding asks for; '' within the limits."""
        return "" if self.found is None else self.found.next_step

    @property
    def review(self) -> PairReview | None:
        """The newest note of a reviewer on these two results; None when there is none."""
        if self.first_result is None or self.duplicate_result is None:
            return None
        kept = self.duplicate_result.pair_reviews.all()
        return next((each for each in kept if each.first_id == self.first_result.pk), None)


def _fractions(result: Result | None) -> Fractions | None:
    distribution = None if result is None else result.distribution
    return None if distribution is None else distribution.fractions


def pairs_among(runs: Sequence[tuple[Run, Result | None]], batch: Batch) -> list[Pair]:
    """The pairs of a batch, from every sample's run with the result that belongs to what is recorded now."""
    by_portion = {run.portion_id: (run, result) for run, result in runs}
    found = []
    for run, result in runs:
        if run.portion is not None and run.is_duplicate:
            first, first_result = by_portion[run.portion.duplicate_of_id]
            found.append(Pair(first, run, first_result, result, batch))
    return found


def pair_of(run: Run) -> Pair | None:
    """The pair a run belongs to, whichever of the two it is."""
    if run.portion is None:
        return None
    first_portion = run.portion.duplicate_of_id or run.portion_id
    both = run.batch.sample_runs.filter(Q(portion=first_portion) | Q(portion__duplicate_of=first_portion))
    pairs = pairs_among([(each, result_in_force(each)) for each in both], run.batch)
    return pairs[0] if pairs else None


def review_in_force(first: Result) -> PairReview | None:
    """The reviewer's note on the pair of a first portion, when it is about the results in force."""
    pair = pair_of(first.run)
    return None if pair is None or pair.first_result != first else pair.review
