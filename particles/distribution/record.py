"""
What goes into a computation and what comes out of it, as frozen values.

Every number carries its unit at the end of its name. Nothing here computes,
reads a clock, opens a file or knows a database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

ADDED: Mapping[str, str] = MappingProxyType({"since": "1.1.0"})
"""Mark of a field that engine 1.0.0 did not have. At its default it is left out of the digest, so that a
record or edition from before keeps its digest and the seed derived from it."""


class HydrometerScale(StrEnum):
    """What the stem is graduated in (ASTM E100 designations)."""

    GRAMS_PER_LITRE = "152H"
    RELATIVE_DENSITY = "151H"


class ReadingState(StrEnum):
    """Whether a slot of the schedule holds a number."""

    READ = "read"
    MISSED = "missed"
    ABOVE_SCALE = "above scale"


class Sight(StrEnum):
    """What a person at the cylinder can see and note in passing."""

    FOAM = "foam at the stem"
    ROOTS = "roots or floating matter at the stem"
    ALCOHOL = "a drop of alcohol against foam"
    BUMPED = "bench bumped or cylinder moved"
    LEFT_IN = "hydrometer left in since the reading before"
    CLEAR_ABOVE = "clear liquid above a sharp front"
    SPILL = "spill"
    DOUBTFUL = "reading doubtful"


class Severity(StrEnum):
    """How far a finding reaches: noted, to be printed, or no certified figure."""

    NOTE = "note"
    WARN = "warn"
    STOP = "stop"


class Correction(StrEnum):
    """How readings become concentrations. One rule per run, never two on top of each other."""

    MEASURED_BLANK = "measured blank"
    COMPOSITE = "constant composite correction"
    SEPARATE = "zero, meniscus and temperature corrections"
    NONE = "none"


class Interpolation(StrEnum):
    """How percent finer is read off between two points of the curve."""

    STRAIGHT = "straight in log diameter"
    MONOTONE_CUBIC = "monotone cubic in log diameter"


class ClayExtrapolation(StrEnum):
    """What to do when the last reading has not reached the clay limit."""

    NONE = "none"
    FACTOR = "factor 1.3"
    """The last line is extended, at most by the edition's factor in diameter."""
    DAY_LINE = "1.5 h to 24 h line"
    """The line through these two readings, in log diameter, at most by the same factor."""


@dataclass(frozen=True, slots=True)
class DepthLine:
    """Effective depth at the true liquid level R': L = intercept - slope * R'."""

    intercept_cm: float
    slope_cm_per_unit: float
    """[cm] per g/L (152H) or per unit of (relative density - 1) (151H)."""


@dataclass(frozen=True, slots=True)
class DepthTable:
    """Effective depth by straight interpolation between calibrated points; an error outside them."""

    readings: tuple[float, ...]
    """(n,) strictly rising, n >= 2, in scale units, at the true liquid level."""
    depths_cm: tuple[float, ...]
    """(n,) falling, lines up with `readings`."""


@dataclass(frozen=True, slots=True)
class Hydrometer:
    """One instrument, from its own record."""

    identity: str
    scale: HydrometerScale
    depth: DepthLine | DepthTable
    meniscus_correction: float
    """Height of the meniscus on the scale, positive, in scale units.
    Used for depth; cancels against a measured blank."""
    insertion_displacement_cm: float = 0.0
    """V_b / (2 A), already contained in `depth`.
    Added back for readings the method takes without re-insertion. [cm]"""
    scale_minimum: float = -5.0
    scale_maximum: float = 60.0
    scale_corrections: tuple[tuple[float, float], ...] = field(default=(), metadata=ADDED)
    """(reading, correction added to it), in scale units, readings rising; from the instrument's calibration.
    Applied once to sample and blank readings alike; the depth stays that of the mark as read."""


@dataclass(frozen=True, slots=True)
class TemperatureLine:
    """Correction of an old sheet: intercept + slope * T, added to the reading. [g/L], T in C."""

    intercept_g_l: float
    slope_g_l_per_c: float


@dataclass(frozen=True, slots=True)
class ReadingPoint:
    """One slot of the schedule, as it happened."""

    elapsed_s: float
    """True time since the end of stirring. [s]"""
    temperature_c: float | None
    """Of the suspension; None only for a slot nobody stood at."""
    state: ReadingState = ReadingState.READ
    reading: float | None = None
    """As read at the upper edge of the meniscus, in scale units; None unless state is READ."""
    blank_reading: float | None = None
    blank_temperature_c: float | None = None
    blank_gap_s: float | None = None
    """How far in time the blank was read from this reading; None when not known. [s]"""
    composite_correction_g_l: float | None = None
    """Subtracted from the reading; only with Correction.COMPOSITE."""
    time_doubt: str = field(default="", metadata=ADDED)
    """What happened to the clock that `elapsed_s` comes from; '' for a time that is proven."""
    time_doubt_s: float | None = field(default=None, metadata=ADDED)
    """How far that clock stood from the laboratory's when the two met again; ahead is positive. [s]"""
    blank_number: int | None = field(default=None, metadata=ADDED)
    """Which reading of the blank it is: readings with one number share it, and its error; None: its own alone."""

    @property
    def at_c(self) -> float:
        """Temperature of a slot that somebody stood at. [C]"""
        assert self.temperature_c is not None, "a missed slot has no temperature"
        return self.temperature_c


@dataclass(frozen=True, slots=True)
class SieveMass:
    opening_um: float
    retained_g: float


@dataclass(frozen=True, slots=True)
class Sieving:
    """Sand washed out of this portion after the readings, or out of another one, dried and sieved."""

    washed_dry_mass_g: float
    """What went on the stack: dry mass left on the finest sieve after washing. [g]"""
    sieves: tuple[SieveMass, ...]
    """In falling order of opening."""
    pan_g: float
    portion_oven_dry_mass_g: float | None = field(default=None, metadata=ADDED)
    """Of the other portion the sand was washed out of; None: the portion in the cylinder. [g]"""


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation at a cylinder."""

    what: Sight
    slot_s: float | None = None
    """Nominal time of the reading it is about; None when it is about none. [s]"""
    at_blank: bool = False
    """Whether it was seen at the blank's cylinder, not at the run's own."""
    note: str = ""


@dataclass(frozen=True, slots=True)
class RunRecord:
    """Everything measured on one test portion in one cylinder."""

    label: str
    hydrometer: Hydrometer
    readings: tuple[ReadingPoint, ...]
    """In order of elapsed time, n >= 1."""
    correction: Correction = Correction.MEASURED_BLANK
    oven_dry_mass_g: float | None = None
    """Given directly, or else from the next two."""
    air_dry_mass_g: float | None = None
    moisture_pct: float | None = None
    """Air-dry moisture on oven-dry basis. [%]"""
    particle_density_g_cm3: float = 2.65
    particle_density_measured: bool = False
    dispersant_g_l: float = 0.0
    """Sodium hexametaphosphate in the cylinder. [g/L]"""
    volume_ml: float = 1000.0
    zero_correction_g_l: float = 0.0
    """Subtracted; only with Correction.SEPARATE."""
    temperature_correction: TemperatureLine | None = None
    """Added; only with Correction.SEPARATE."""
    sieving: Sieving | None = None
    gravel_pct: float | None = None
    """Coarser than 2 mm, percent of the whole sample; kept apart from the fine earth."""
    gravel_sieves: tuple[SieveMass, ...] = field(default=(), metadata=ADDED)
    """Dry masses of the whole sample on sieves of 2 mm and more, in falling order of opening."""
    whole_sample_dry_mass_g: float | None = field(default=None, metadata=ADDED)
    """Gravel and fine earth together; what `gravel_sieves` refer to. [g]"""
    field_clayey: bool | None = field(default=None, metadata=ADDED)
    """Whether the sample felt clayey in the hand; None when nobody noted it."""
    between_run_sd_pct: float | None = field(default=None, metadata=ADDED)
    """The laboratory's own between-run standard deviation of clay and of sand, from its duplicates.
    None: that of the method edition. [percentage points]"""
    between_run_pairs: int | None = field(default=None, metadata=ADDED)
    """How many pairs of duplicates that figure comes from; None when it is not told."""
    seen: tuple[Seen, ...] = field(default=(), metadata=ADDED)
    """Observations at this cylinder and at the blank's, in the order they were made."""
    void: str = field(default="", metadata=ADDED)
    """Why the run, or its blank, is void; '' when it is not."""


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
    correction_g_l: float
    """Everything taken from the reading above clear water, the instrument's own scale correction included:
    [g/L] on a 152H, thousandths on a 151H."""
    concentration_g_l: float
    """Soil in suspension. May be negative: it is shown, never clipped. [g/L]"""
    effective_depth_cm: float
    diameter_um: float
    reynolds: float
    percent_finer: float
    """Of the oven-dry mass of the portion. [%]"""
    percent_finer_curve: float
    """After the reported smoothing that keeps the curve from rising towards finer sizes. [%]"""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    diameter_um: float
    percent_finer: float
    source: str
    """'sieve' or 'hydrometer'."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """One fraction with its doubt; all in percent of the oven-dry fine earth."""

    value_pct: float
    standard_uncertainty_pct: float | None = None
    low_pct: float | None = None
    high_pct: float | None = None
    """Ends of the 95 % interval."""


@dataclass(frozen=True, slots=True)
class Fractions:
    clay: Estimate
    silt: Estimate
    sand: Estimate
    clay_limit_um: float
    sand_limit_um: float
    sand_by: str
    """'sieve' or 'hydrometer'."""


@dataclass(frozen=True, slots=True)
class SandFraction:
    """One of the five sand separates, in percent of the oven-dry fine earth."""

    name: str
    coarse_um: float
    fine_um: float
    percent: float


@dataclass(frozen=True, slots=True)
class NamedReading:
    """A result of a two-reading method, valid only under this name."""

    name: str
    """For instance 'silt and clay at 40 s'."""
    value_pct: float
    diameter_um: float | None = None
    """What the reading holds is finer than this; None for a difference of two readings. [µm]"""


@dataclass(frozen=True, slots=True)
class TextureClass:
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
    """The answer for one run."""

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
    """Only for methods that report by time; such methods have no `fractions`."""
    whole_sample_curve: tuple[CurvePoint, ...] = ()
    """Gravel sieves, then the curve turned into percent of the whole sample; empty without a gravel content."""
    sand_fractions: tuple[SandFraction, ...] = ()
    """From very coarse to very fine; empty unless a sieve stood at each of their limits."""
    other_textures: tuple[TextureClass, ...] = ()
    """Classes of the further systems the edition names, each from fractions at its own size limits."""
    covariance_pct2: tuple[tuple[float, ...], ...] | None = None
    """(3, 3) of sand, silt and clay in this order, from the draws; rows add up to 0. [%²]"""
    between_run_sd_pct: float | None = None
    """Between-run standard deviation that went into the draws. [%]"""
    stabilised: bool | None = None
    """Whether the adaptive rule was met; None when the number of draws was fixed."""
    random_source: str = ""
    """Version and generator of the draws; the same seed gives the same draws with this one only."""

    @property
    def certifiable(self) -> bool:
        """Whether a certified result is allowed: there are fractions and no finding stops them."""
        return self.fractions is not None and all(f.severity is not Severity.STOP for f in self.findings)
