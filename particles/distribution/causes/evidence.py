"""Everything a batch is judged by: each run with what is known of its soil apart from the readings."""

from __future__ import annotations

from dataclasses import dataclass, field

from particles.distribution.answer import Severity, SizeDistribution
from particles.distribution.record import RunRecord
from particles.distribution.triple import SandSiltClay


@dataclass(frozen=True, slots=True)
class Assigned:
    """What a reference soil is known to hold, with the spread of one run about it."""

    percents: SandSiltClay[float]
    """[%]"""
    sand_sd_pct: float
    clay_sd_pct: float


@dataclass(frozen=True, slots=True)
class ByHand:
    """What a hand said of a soil before it was run: a class, and how much sand and clay it took it to hold."""

    named: str | None = None
    """USDA class; None when none of the twelve was noted."""
    sand_pct: float | None = None
    clay_pct: float | None = None


@dataclass(frozen=True, slots=True)
class RunEvidence:
    """One cylinder with soil: what was measured in it, and what is known of that soil from elsewhere."""

    record: RunRecord
    distribution: SizeDistribution | None
    """As stored; None when nothing can be computed from the record."""
    by_hand: ByHand | None = None
    """What whoever prepared the sample felt; None when nothing was noted."""
    asked_mass_g: float | None = None
    """Air-dry mass the weighing page asked for; None when another mass was weighed on purpose. [g]"""
    duplicate_of: str | None = None
    """Label of the run of the first portion, for the duplicate of a sample."""
    reference: Assigned | None = None
    """For a reference soil; None for a client's sample."""
    profile: str = ""
    """What samples of one place share, below each other or side by side; '' when nothing is known."""
    depth_cm: float | None = None
    """Middle of the depth it was taken from. [cm]"""
    waits: bool = False
    """Whether the record is only not computed yet: then nothing is asked about it."""

    @property
    def label(self) -> str:
        """Label of the record."""
        return self.record.label


@dataclass(frozen=True, slots=True)
class ControlOutcome:
    """One line of the batch's quality control that did not pass."""

    code: str
    severity: Severity
    sentence: str
    number: float | None = None
    labels: tuple[str, ...] = ()
    """Runs whose figures it touches; empty for all."""


@dataclass(frozen=True, slots=True)
class BatchEvidence:
    """The runs of one batch in the order of their cylinders, beside the quality control of the batch."""

    runs: tuple[RunEvidence, ...]
    controls: tuple[ControlOutcome, ...] = field(default=())
    scanned: bool = False
    """Whether sample and cylinder were bound by scanning both when the suspension was poured."""

    def __getitem__(self, label: str) -> RunEvidence:
        """The run with this label."""
        return next(run for run in self.runs if run.label == label)
