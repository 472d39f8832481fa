"""Pairs of duplicates as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from particles.distribution.record import SpreadByContent

COMPARED = ("sand", "clay")


@dataclass(frozen=True)
class ComparedPair:
    """Two runs of one sample in one batch that was signed, from the results in force. [%]"""

    lab_number: str
    batch_number: str
    at: datetime
    """When the soak of its batch began: the limits of that moment judge it."""
    first_run: int
    duplicate_run: int
    sand_pct: tuple[float, float]
    clay_pct: tuple[float, float]
    bound: Mapping[str, SpreadByContent]
    """Spread between runs that its batch is computed with, by fraction."""
    why_out: str = ""
    """Why it says nothing of scatter; '' when it does, or when it waits for an answer."""
    open_since: datetime | None = None
    """When its batch was re-opened; None when it was not, or that is settled."""

    def of(self, fraction: str) -> tuple[float, float]:
        """The figures of one fraction of `COMPARED`: first portion, duplicate. [%]"""
        return {"sand": self.sand_pct, "clay": self.clay_pct}[fraction]
