"""
The record of one run, as frozen values: everything measured that a computation starts from.

Every number carries its unit at the end of its name. Nothing here computes,
reads a clock, opens a file or knows a database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import Field, dataclass, field
from enum import StrEnum
from math import hypot, sqrt
from types import MappingProxyType

ADDED: Mapping[str, str] = MappingProxyType({"since": "1.1.0"})
"""Mark of a field that engine 1.0.0 did not have, of whichever later engine. At its default it is left out of the
digest, so that a record or edition from before keeps its digest."""


def stored_as(name: str, also: Mapping[str, str] = MappingProxyType({})) -> Mapping[str, str]:
    """Mark of a field whose name in stored JSON, in digests and in messages is another than in the code."""
    return {**also, "stored": name}


def stored_name(each: Field[object]) -> str:
    """Name of a field in stored JSON, in digests and in messages."""
    return str(each.metadata.get("stored", each.name))


class HydrometerScale(StrEnum):
    """Scale that the stem is graduated in (ASTM E100 designations)."""

    GRAMS_PER_LITRE = "152H"
    RELATIVE_DENSITY = "151H"


class ReadingState(StrEnum):
    """Whether a slot of the schedule holds a number."""

    READ = "read"
    MISSED = "missed"
    ABOVE_SCALE = "above scale"


class Sight(StrEnum):
    """Things a person at the cylinder can see and note in passing."""

    FOAM = "foam at the stem"
    ROOTS = "roots or floating matter at the stem"
    ALCOHOL = "a drop of alcohol against foam"
    BUMPED = "bench bumped or cylinder moved"
    LEFT_IN = "hydrometer left in since the reading before"
    CLEAR_ABOVE = "clear liquid above a sharp front"
    SPILL = "spill"
    DOUBTFUL = "reading doubtful"


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
    """Rule for a last reading that has not reached the clay limit."""

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
    """Fall of the depth per g/L (152H) or per unit of relative density (151H). [cm per scale unit]"""


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
    """Correction of an old sheet: intercept + slope * T, added to the reading. [graduations of the stem], T in C."""

    intercept_graduations: float = field(metadata=stored_as("intercept_g_l"))
    slope_graduations_per_c: float = field(metadata=stored_as("slope_g_l_per_c"))


@dataclass(frozen=True, slots=True)
class ReadingPoint:
    """One slot of the schedule, as it happened."""

    elapsed_s: float
    """True time since the end of stirring. [s]"""
    temperature_c: float | None
    """Temperature of the suspension; None only for a slot nobody stood at."""
    state: ReadingState = ReadingState.READ
    reading: float | None = None
    """As read at the upper edge of the meniscus, in scale units; None unless state is READ."""
    blank_reading: float | None = None
    blank_temperature_c: float | None = None
    blank_gap_s: float | None = None
    """How far in time the blank was read from this reading; None when not known. [s]"""
    composite_correction_graduations: float | None = field(
        default=None, metadata=stored_as("composite_correction_g_l")
    )
    """Subtracted from the reading; only with Correction.COMPOSITE.
    [g/L] on a 152H, thousandths of relative density on a 151H."""
    time_doubt: str = field(default="", metadata=ADDED)
    """Event of the clock that `elapsed_s` comes from, which makes it uncertain; '' for a time that is proven."""
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
class BlankReading:
    """One reading of the blank, at whatever time."""

    at_s: float
    """From the run's own time zero; negative before it. [s]"""
    temperature_c: float
    reading: float
    """As read at the upper edge of the meniscus, in scale units."""
    slot_s: float | None = None
    """Time of the schedule it was read for; None for one read in between. [s]"""


@dataclass(frozen=True, slots=True)
class SieveMass:
    """Dry mass on one sieve."""

    opening_um: float
    retained_g: float


@dataclass(frozen=True, slots=True)
class Sieving:
    """Sand washed out of this portion after the readings, or out of another one, dried and sieved."""

    washed_dry_mass_g: float
    """Dry mass left on the finest sieve after washing, which went on the stack. [g]"""
    sieves: tuple[SieveMass, ...]
    """In falling order of opening."""
    pan_g: float
    portion_oven_dry_mass_g: float | None = field(default=None, metadata=ADDED)
    """Mass of the other portion the sand was washed out of; None: the portion in the cylinder. [g]"""


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
class Pycnometer:
    """The weighings of one measurement of the particle density."""

    dry_soil_g: float
    """Oven-dry soil put into it. [g]"""
    with_water_g: float
    """Filled to its mark with water alone. [g]"""
    with_soil_and_water_g: float
    """Filled to its mark with the soil and water. [g]"""
    water_c: float
    """Of both fillings. [C]"""


@dataclass(frozen=True, slots=True)
class SpreadByContent:
    """
    Standard deviation between runs as a function of content, s² = level² + (rise · √(X(100 - X))/50)².

    Sieving and sedimentation count grains, whose spread has the shape of a binomial law; scale readings add a part
    that does not. All in percentage points.
    """

    level_pct: float
    """The part that is alike at all contents."""
    rise_pct: float = 0.0
    """The part that follows the shape, at 50 %; 0 for one spread at all contents."""

    def at(self, content_pct: float) -> float:
        """
        Standard deviation at a content. [percentage points]

        >>> round(SpreadByContent(0.3, 0.4).at(50.0), 3), SpreadByContent(0.3, 0.4).at(0.0)
        (0.5, 0.3)
        """
        return hypot(self.level_pct, self.rise_pct * content_shape(content_pct))


def content_shape(content_pct: float) -> float:
    """
    Shape of a spread over contents, √(X(100 - X))/50: 1 at 50 %, zero at both ends and beyond. [-]

    >>> content_shape(50.0), content_shape(0.0), round(50 * content_shape(10.0), 3)
    (1.0, 0.0, 30.0)
    """
    within = min(max(content_pct, 0.0), 100.0)
    return sqrt(within * (100.0 - within)) / 50.0


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
    zero_correction_graduations: float = field(default=0.0, metadata=stored_as("zero_correction_g_l"))
    """Subtracted; only with Correction.SEPARATE. [g/L] on a 152H, thousandths of relative density on a 151H."""
    temperature_correction: TemperatureLine | None = None
    """Added; only with Correction.SEPARATE."""
    sieving: Sieving | None = None
    gravel_pct: float | None = None
    """Coarser than 2 mm, percent of the whole sample; no part of the fine earth."""
    gravel_sieves: tuple[SieveMass, ...] = field(default=(), metadata=ADDED)
    """Dry masses of the whole sample on sieves of 2 mm and more, in falling order of opening."""
    whole_sample_dry_mass_g: float | None = field(default=None, metadata=ADDED)
    """Gravel and fine earth together; what `gravel_sieves` refer to. [g]"""
    field_clayey: bool | None = field(default=None, metadata=ADDED)
    """Whether the sample felt clayey in the hand; None when nobody noted it."""
    between_run_sd_pct: float | None = field(default=None, metadata=ADDED)
    """The laboratory's own between-run standard deviation of clay and of sand, from its duplicates.
    None: that of the method edition. [percentage points]"""
    between_run_sand: SpreadByContent | None = field(default=None, metadata=ADDED)
    """The same of sand alone, as a function of its content; takes the place of the figure for both."""
    between_run_clay: SpreadByContent | None = field(default=None, metadata=ADDED)
    """The same of clay alone."""
    between_run_pairs: int | None = field(default=None, metadata=ADDED)
    """How many pairs of duplicates that figure comes from; None when it is not known."""
    seen: tuple[Seen, ...] = field(default=(), metadata=ADDED)
    """Observations at this cylinder and at the blank's, in the order they were made."""
    particle_density_document: str = field(default="", metadata=ADDED)
    """Where a measured particle density comes from, such as the number of its certificate; '' when it is not said."""
    particle_density_weighings: Pycnometer | None = field(default=None, metadata=ADDED)
    """The weighings it was measured by; None when they are not here."""
    blanks: tuple[BlankReading, ...] = field(default=(), metadata=ADDED)
    """Every reading of the blank that stood beside the run, in order of time: all of them serve each reading of the
    run. Empty: each reading has the one that stands beside it in `readings`."""
    blank_dispersant_g_l: float | None = field(default=None, metadata=ADDED)
    """Dispersant in the cylinder of the blank; None: as much as in the run's own. [g/L]"""
    void: str = field(default="", metadata=ADDED)
    """Why the run, or its blank, is void; '' when it is not."""
