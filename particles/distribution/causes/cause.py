"""A cause: one thing that may have gone wrong, whatever number of findings speak of it, and what settles it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from particles.distribution.answer import Finding, Severity
from particles.distribution.triple import SandSiltClay

DECISIVE_PCT = 3.0
"""A cause that moves a fraction by as much is settled by a decision, never by a note: with what chance adds to it, the
figure may be 5 points off. [percentage points]"""
SHARED_PCT = 2.0
"""A blank that moves the figures of all runs by as much is never settled by a note. [percentage points]"""
LIKELY_ODDS = 20.0
"""From these odds on the records are what is doubted: no comparison of them contradicts it. *Chosen*: 95 %."""
PRINTED_PCT = 1.0
"""Fractions are printed to this; an effect below it moves nothing that leaves the laboratory. [%]"""


class Needs(StrEnum):
    """What settles a cause."""

    LOOK = "look"
    """Nothing: it is shown."""
    NOTE = "note"
    """A reviewer's words."""
    DECISION = "decision"
    """An act that changes what leaves the laboratory, or words on evidence beyond the batch."""

    @property
    def weight(self) -> int:
        """Place in the order from look to decision, beginning with 0."""
        return list(Needs).index(self)


class Remedy(StrEnum):
    """What would put the figures right if the cause is true."""

    NONE = "none"
    """Nothing in the record: look at what is not recorded, or analyse again."""
    LEAVE_OUT = "leave slots out"
    EXCHANGE = "exchange"
    MASS = "put the mass right"
    BLANK = "put the blank right"
    AGAIN = "analyse again"


@dataclass(frozen=True, slots=True)
class Effect:
    """What a remedy would do to one run's figures."""

    label: str
    before: SandSiltClay[float] | None
    """As computed from the record. [%]; None without figures."""
    after: SandSiltClay[float] | None
    """With the remedy. [%]; None when no figures are left."""
    class_before: str
    class_after: str
    curve_before: tuple[tuple[float, float], ...] = ()
    """(diameter, percent finer), falling. [µm, %]"""
    curve_after: tuple[tuple[float, float], ...] = ()

    @property
    def largest_pct(self) -> float:
        """Largest move of a fraction; 0 when either side has no figures. [percentage points]"""
        if self.before is None or self.after is None:
            return 0.0
        return max(abs(b - a) for b, a in zip(self.before, self.after, strict=True))

    @property
    def loses_figures(self) -> bool:
        """Whether the figures rest on what the remedy takes away."""
        return self.before is not None and self.after is None

    @property
    def class_changes(self) -> bool:
        """Whether the class changes, by more than the last printed unit can do."""
        return (
            self.before is not None
            and self.after is not None
            and self.class_before != self.class_after
            and self.largest_pct >= PRINTED_PCT
        )

    @property
    def decisive(self) -> bool:
        """Whether a note alone cannot settle it."""
        return self.loses_figures or self.class_changes or self.largest_pct >= DECISIVE_PCT


@dataclass(frozen=True, slots=True)
class Told:
    """One finding that speaks of the cause."""

    label: str
    code: str
    severity: Severity
    sentence: str
    next_step: str
    reading_index: int | None = None

    @classmethod
    def of(cls, label: str, found: Finding) -> Told:
        """A finding as the run with this label tells it."""
        return cls(label, found.code, found.severity, found.sentence, found.next_step, found.reading_index)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that may have gone wrong, with the runs it touches and its effect on their figures."""

    kind: str
    """Code of the catalogue's row its words come from."""
    severity: Severity
    sentence: str
    next_step: str
    labels: tuple[str, ...]
    """Every run concerned, also the one that looks sound."""
    told_by: tuple[Told, ...] = ()
    """Findings that this cause explains; may be empty."""
    remedy: Remedy = Remedy.NONE
    slots: tuple[int, ...] = ()
    """Readings the remedy exchanges or leaves out, as indices; all of a run for a whole exchange."""
    with_sieves: bool = False
    """For an exchange: whether the sand washed out went with the cylinder."""
    mass_g: float | None = None
    """For `Remedy.MASS`: the air-dry mass that would be right. [g]"""
    step_g_l: float | None = None
    """For `Remedy.BLANK`: what the blank moved by, from the first of `slots` on. [g/L]"""
    effects: tuple[Effect, ...] = ()
    odds: float | None = None
    """Odds of this cause against the record as it stands; None where none are computed. [-]"""
    needs: Needs

    @property
    def doubts_the_records(self) -> bool:
        """Whether it is a likely exchange that would be decisive, which the records in doubt cannot contradict."""
        likely = self.odds is not None and self.odds >= LIKELY_ODDS
        return likely and self.remedy is Remedy.EXCHANGE and any(each.decisive for each in self.effects)

    @property
    def key(self) -> str:
        """Name of the cause that stays the same while the same thing is found in the same runs."""
        parts = (self.kind, *sorted(self.labels), *(str(slot) for slot in self.slots), self.remedy.value)
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]

    @property
    def touched(self) -> tuple[str, ...]:
        """Runs that a decision on it must cover; of a blank that moved not those whose figures it hardly moves."""
        if self.remedy is not Remedy.BLANK or self.severity is Severity.STOP:
            return self.labels
        spared = {e.label for e in self.effects if not e.decisive and e.largest_pct < SHARED_PCT}
        return tuple(label for label in self.labels if label not in spared)

    @property
    def largest_pct(self) -> float:
        """Largest move of any fraction of any run concerned. [percentage points]"""
        return max((effect.largest_pct for effect in self.effects), default=0.0)

    @property
    def flips(self) -> tuple[Effect, ...]:
        """Effects that change a class."""
        return tuple(effect for effect in self.effects if effect.class_changes)


def cause_of(words: Finding | Told, labels: Iterable[str], *, needs: Needs, **also: Any) -> Cause:
    """
    A cause in the words of one finding.

    Parameters
    ----------
    also : further fields of the cause.
    """
    return Cause(
        kind=words.code,
        severity=words.severity,
        sentence=words.sentence,
        next_step=words.next_step,
        labels=tuple(labels),
        needs=needs,
        **also,
    )
