"""
The result of one run, as frozen values: points, curve, fractions, classes and findings.

Every number carries its unit at the end of its name. Nothing here computes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from particles.distribution.record import Correction, stored_as
from particles.distribution.triple import SandSiltClay


class Severity(StrEnum):
    """How far a finding reaches: noted, to be printed, or no certified figure."""

    NOTE = "note"
    WARN = "warn"
    STOP = "stop"

    @property
    def weight(self) -> int:
        """Place in the order from note to stop, beginning with 0."""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something a person must know: what happened, the number that shows it, what to do next."""

    code: str
    severity: Severity
    sentence: str
    next_step: str
    number: float | None = None
    unit: str = ""
    reading_index: int | None = None
    """Index into RunRecord.readings when it is about one of them."""


@dataclass(frozen=True, slots=True)
class SizePoint:
    """One hydrometer reading turned into one point of the curve."""

    reading_index: int
    elapsed_s: float
    temperature_c: float
    reading: float
    blank_reading: float | None
    correction_graduations: float = field(metadata=stored_as("correction_g_l"))
    """Everything taken from the reading above clear water, the instrument's own scale correction included.
    [g/L] on a 152H, thousandths of relative density on a 151H."""
    concentration_g_l: float
    """Soil in suspension. May be negative: it is shown, never clipped. [g/L]"""
    effective_depth_cm: float
    diameter_um: float
    reynolds: float
    percent_finer: float
    """Percent of the oven-dry mass of the portion that is finer. [%]"""
    percent_finer_curve: float
    """Percent finer after the reported smoothing that keeps the curve from rising towards finer sizes. [%]"""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One point of a curve, from a sieve or from the hydrometer."""

    diameter_um: float
    percent_finer: float
    source: str
    """'sieve' or 'hydrometer'."""
    held_pct: float | None = None
    """What passed the sieve above it, where the hydrometer shows more: figures are read with it. None: they are read
    with the point as it is. [%]"""

    @property
    def read_pct(self) -> float:
        """Percent finer that figures are read with. [%]"""
        return self.percent_finer if self.held_pct is None else self.held_pct


@dataclass(frozen=True, slots=True)
class Estimate:
    """One fraction with its uncertainty, in percent of the oven-dry fine earth."""

    value_pct: float
    standard_uncertainty_pct: float | None = None
    low_pct: float | None = None
    high_pct: float | None = None
    """Ends of the 95 % interval."""


@dataclass(frozen=True, slots=True)
class Fractions:
    """Clay, silt and sand of one run at the size limits of its edition."""

    clay: Estimate
    silt: Estimate
    sand: Estimate
    clay_limit_um: float
    sand_limit_um: float
    sand_by: str
    """'sieve' or 'hydrometer'."""

    @property
    def estimates(self) -> SandSiltClay[Estimate]:
        """The three in the order that every calculation keeps."""
        return SandSiltClay(self.sand, self.silt, self.clay)

    @property
    def percents(self) -> SandSiltClay[float]:
        """Values of sand, silt and clay. [%]"""
        return SandSiltClay(self.sand.value_pct, self.silt.value_pct, self.clay.value_pct)


@dataclass(frozen=True, slots=True)
class SandFraction:
    """One of the five sand separates, in percent of the oven-dry fine earth."""

    name: str
    coarse_um: float
    fine_um: float
    percent: float


@dataclass(frozen=True, slots=True)
class NamedReading:
    """A figure that is valid only under this name: of a method by time, or known without the others."""

    name: str
    """For instance 'silt and clay at 40 s'."""
    value_pct: float
    diameter_um: float | None = None
    """Size that everything in the reading is finer than; None for a difference of two readings. [µm]"""


@dataclass(frozen=True, slots=True)
class TextureClass:
    """Class of one run in one texture system."""

    system: str
    name: str
    on_the_line: bool
    """True when the point lies on a class line and the stated boundary rule decided."""
    chances: tuple[tuple[str, float], ...] = ()
    """(class, probability) in falling order, from the Monte Carlo draws; adds up to 1."""
    subclass: str = ""
    """For instance 'loamy fine sand'; '' when no sand fractions tell, or the class has none."""


@dataclass(frozen=True, slots=True)
class SizeDistribution:
    """The result of one run."""

    label: str
    method_code: str
    engine_version: str
    correction: Correction
    oven_dry_mass_g: float | None
    points: tuple[SizePoint, ...]
    """In order of elapsed time; empty when nothing can be computed."""
    curve: tuple[CurvePoint, ...]
    """Joined curve in falling order of diameter."""
    fractions: Fractions | None
    texture: TextureClass | None
    findings: tuple[Finding, ...]
    draws: int = 0
    seed: int | None = None
    largest_adjustment_pct: float = 0.0
    """Largest change made by the smoothing. [%]"""
    notes: tuple[str, ...] = field(default=())
    """Plain statements a certificate prints: basis, interpolation rule, what the uncertainty covers."""
    named_readings: tuple[NamedReading, ...] = field(default=())
    """Only without `fractions`: of methods that report by time, and what is known alone of a run."""
    whole_sample_curve: tuple[CurvePoint, ...] = ()
    """Gravel sieves, then the curve turned into percent of the whole sample; empty without a gravel content."""
    sand_fractions: tuple[SandFraction, ...] = ()
    """Sand separates from very coarse to very fine; empty unless a sieve stood at each of their limits."""
    other_textures: tuple[TextureClass, ...] = ()
    """Classes of the further systems the edition names, each from fractions at its own size limits."""
    covariance_pct2: tuple[tuple[float, ...], ...] | None = None
    """(3, 3) of sand, silt and clay in this order, from the draws; rows add up to 0. [%²]"""
    between_run_sd_pct: float | None = None
    """Between-run standard deviation that went into the draws, the larger of sand's and clay's. [%]"""
    stabilised: bool | None = None
    """Whether the adaptive rule was met; None when the number of draws was fixed."""
    random_source: str = ""
    """Version and generator of the draws; the same seed gives the same draws with this one only."""

    @property
    def certifiable(self) -> bool:
        """Whether a certified result is allowed: there are fractions and no finding stops them."""
        return self.fractions is not None and all(f.severity is not Severity.STOP for f in self.findings)
