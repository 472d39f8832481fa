"""The clock of a soak: since when a batch soaks, when it is ready, and when it has soaked too long by its edition."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from batches.planning.models import Batch, BatchState


@dataclass(frozen=True)
class SoakClock:
    """The moments of one soak, and where it stands now."""

    since: datetime
    ready_at: datetime
    too_long_from: datetime
    maximum_h: float
    now: datetime

    @property
    def soaked_h(self) -> float:
        """Duration so far. [h]"""
        return (self.now - self.since).total_seconds() / 3600

    @property
    def still_h(self) -> float:
        """Time until it is ready; 0 once it is. [h]"""
        return max(0.0, (self.ready_at - self.now).total_seconds() / 3600)

    @property
    def is_ready(self) -> bool:
        """Whether the method's minimum is over."""
        return self.now >= self.ready_at

    @property
    def is_too_long(self) -> bool:
        """Whether the longest soak of the method is over."""
        return self.now > self.too_long_from


def soak_clock(batch: Batch, at: datetime) -> SoakClock | None:
    """The clock of a batch that soaks; None before and after."""
    since, edition = batch.soak_started_at, batch.method.edition
    if batch.state != BatchState.SOAKING or since is None:
        return None
    return SoakClock(
        since,
        ready_at=since + timedelta(hours=edition.soak_minimum_h),
        too_long_from=since + timedelta(hours=edition.soak_maximum_h),
        maximum_h=edition.soak_maximum_h,
        now=at,
    )
