"""
The form of a bench sheet: what its JSON holds, as frozen values whose names are those of the sheet.

The one place where the form is written down: `schema.json` beside this file is made from it, and a sheet that
holds to it is read into it. Numbers carry their unit at the end of their name. A default says what a field that is
left out means; None and () say that it is not there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from particles.bench_sheet.json_schema import keywords
from particles.distribution import ClayExtrapolation, HydrometerScale, Interpolation, ReadingState
from particles.distribution import Correction as CorrectionRule
from particles.distribution.possible import (
    GRAVEL_POSSIBLE_PCT,
    SAMPLE_POSSIBLE_G,
    SIEVE_OPENING_POSSIBLE_UM,
    TEMPERATURE_POSSIBLE_C,
    Possible,
)


def _within(possible: Possible) -> tuple[tuple[str, Any], ...]:
    return keywords(minimum=possible.low, maximum=possible.high)


Words = Annotated[str, keywords(minLength=1)]
Positive = Annotated[float, keywords(exclusiveMinimum=0)]
NotNegative = Annotated[float, keywords(minimum=0)]
Percent = Annotated[float, keywords(minimum=0, maximum=100)]
Temperature = Annotated[float, _within(TEMPERATURE_POSSIBLE_C)]
Fahrenheit = Annotated[float, keywords(minimum=50, maximum=104)]
"""10 to 40 °C. [°F]"""
Opening = Annotated[float, _within(SIEVE_OPENING_POSSIBLE_UM)]
SampleMass = Annotated[float, keywords(exclusiveMinimum=0, maximum=SAMPLE_POSSIBLE_G.high)]
SieveMass = Annotated[float, keywords(minimum=0, maximum=SAMPLE_POSSIBLE_G.high)]
PrintedFigure = Annotated[str, keywords(pattern=r"^-?[0-9]{1,6}([.,][0-9]{1,6})?$")]
"""A figure with the digits it was printed with, such as '24.0'; point or comma."""
Systems = Annotated[tuple[Words, ...], keywords(uniqueItems=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeLimits:
    """Upper limits of clay and of silt. [µm]"""

    clay: Positive
    sand: Positive


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthLine:
    """Effective depth at the true liquid level as a straight line."""

    intercept_cm: Positive
    slope_cm_per_unit: Positive
    """Fall of the depth per unit of the scale. [cm per scale unit]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthTable:
    """Effective depths at calibrated points, straight between them."""

    readings: Annotated[tuple[float, ...], keywords(minItems=2)]
    """Rising. [scale units]"""
    depths_cm: Annotated[tuple[Positive, ...], keywords(minItems=2)]
    """Falling; one for each reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BulbDistance:
    """Distance from a mark on the stem to the top of the bulb."""

    reading: float
    """[scale units]"""
    distance_cm: Positive


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthGeometry:
    """Measures of hydrometer and cylinder from which the depth line follows."""

    bulb_volume_cm3: Positive
    cylinder_area_cm2: Positive
    bulb_length_cm: Positive
    distances_to_bulb_top: Annotated[tuple[BulbDistance, ...], keywords(minItems=2, maxItems=2)]


Depth = DepthLine | DepthTable | DepthGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleCorrection:
    """Correction added to a reading at one mark. [scale units]"""

    reading: float
    correction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hydrometer:
    """One instrument."""

    identity: str = ""
    scale: HydrometerScale
    depth: Depth
    scale_corrections: Annotated[tuple[ScaleCorrection, ...], keywords(minItems=1)] = ()
    """From the calibration, readings rising."""
    meniscus_correction: NotNegative
    """Height of the meniscus. [scale units]"""
    insertion_displacement_cm: NotNegative = 0.0
    scale_minimum: float | None = None
    """Lowest mark; that of a usual stem when left out. [scale units]"""
    scale_maximum: float | None = None
    """Highest mark; that of a usual stem when left out. [scale units]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pycnometer:
    """The weighings of one measurement of the particle density."""

    dry_soil_g: Positive
    """Oven-dry soil put into it."""
    with_water_g: Positive
    """Filled to its mark with water alone."""
    with_soil_and_water_g: Positive
    """Filled to its mark with the soil and water."""
    water_c: Temperature
    """Of both fillings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureDish:
    """One dish of the air-dry sample, weighed before and after the oven."""

    dish_g: Positive
    """The empty dish."""
    with_air_dry_g: Positive
    with_oven_dry_g: Positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """One test portion: its oven-dry mass, or its air-dry mass with its moisture."""

    oven_dry_mass_g: Positive | None = None
    air_dry_mass_g: Positive | None = None
    moisture_pct: float | None = None
    """On oven-dry basis."""
    moisture_dishes: Annotated[tuple[MoistureDish, ...], keywords(minItems=1)] = ()
    """In place of moisture_pct: the mean of the dishes is used."""
    particle_density_g_cm3: Positive = 2.65
    particle_density_measured: bool = False
    particle_density_document: str = ""
    """Where it comes from; outside 2.2 to 3.2 this or its weighings are needed."""
    particle_density_weighings: Pycnometer | None = None
    gravel_pct: Annotated[float, _within(GRAVEL_POSSIBLE_PCT)] | None = None
    """Coarser than 2 mm, percent of the whole sample."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureLine:
    """Correction added to a reading: intercept + slope * temperature."""

    intercept_g_l: float
    slope_g_l_per_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """How readings become concentrations: one rule per run."""

    rule: CorrectionRule
    composite_g_l: float | None = None
    zero_g_l: float | None = None
    temperature_line: TemperatureLine | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One slot of the schedule, as it happened."""

    elapsed_s: Positive
    """True time since the end of stirring."""
    temperature_c: Temperature | None = None
    temperature_f: Fahrenheit | None = None
    """In place of temperature_c, from a thermometer in °F. [°F]"""
    state: ReadingState = ReadingState.READ
    reading: float | None = None
    """At the upper edge of the meniscus. [scale units]"""
    blank_reading: float | None = None
    """[scale units]"""
    blank_temperature_c: Temperature | None = None
    blank_temperature_f: Fahrenheit | None = None
    """In place of blank_temperature_c. [°F]"""
    blank_gap_s: NotNegative | None = None
    """How far in time the blank was read from this reading."""
    blank_number: Annotated[int, keywords(minimum=0)] | None = None
    """Readings with one number share one reading of the blank, and its error."""
    composite_correction_g_l: float | None = None
    """In place of the one of the whole run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sieve:
    """Dry mass on one sieve."""

    opening_um: Opening
    retained_g: SieveMass


Stack = Annotated[tuple[Sieve, ...], keywords(minItems=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sieving:
    """Sand washed out of this portion or another one, dried and sieved."""

    washed_dry_mass_g: SampleMass
    """Left on the finest sieve after washing, and put on the stack."""
    portion_oven_dry_mass_g: SampleMass | None = None
    """Mass of the other portion; left out for the one in the cylinder."""
    sieves: Stack
    """In falling order of opening."""
    pan_g: SieveMass


@dataclass(frozen=True, slots=True, kw_only=True)
class Gravel:
    """The whole sample on sieves of 2 mm and more."""

    whole_sample_dry_mass_g: SampleMass
    sieves: Stack
    """In falling order of opening."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedResults:
    """What the source of a sheet printed, with the digits it printed; compared, and never used."""

    sand: PrintedFigure | None = None
    silt: PrintedFigure | None = None
    clay: PrintedFigure | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A hydrometer run: one cylinder. What the sheet leaves out of the method is that of the edition."""

    kind: Literal["run"]
    title: Words
    source: str = ""
    method_code: Words | None = None
    """Edition of the method; the program's default one when left out."""
    size_limits_um: SizeLimits | None = None
    interpolation: Interpolation | None = None
    clay_extrapolation: ClayExtrapolation | None = None
    also_systems: Systems | None = None
    """Texture systems that the class is told by too."""
    confirmed_systems: Systems | None = None
    """Texture systems whose corners somebody has compared with their source."""
    hydrometer: Hydrometer
    portion: Portion
    dispersant_g_l: NotNegative = 0.0
    """In the filled cylinder."""
    volume_ml: Positive = 1000.0
    """Filled volume of the cylinder."""
    correction: Correction = Correction(rule=CorrectionRule.MEASURED_BLANK)
    readings: Annotated[tuple[Reading, ...], keywords(minItems=1)]
    """In order of elapsed time."""
    sieving: Sieving | None = None
    gravel: Gravel | None = None
    printed: PrintedResults | None = None
