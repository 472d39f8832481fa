"""
The form of the sheets without a hydrometer run: a stack of sieves, a pipette test, and results of somebody else.

Written down like `form.py`, whose parts they share.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Literal

from particles.bench_sheet.form import (
    NotNegative,
    Opening,
    Percent,
    Portion,
    Positive,
    PrintedFigure,
    PrintedResults,
    Run,
    SampleMass,
    SieveMass,
    SizeLimits,
    Stack,
    Words,
)
from particles.bench_sheet.json_schema import keywords
from particles.distribution.possible import DIAMETER_POSSIBLE_UM

Diameter = Annotated[float, keywords(minimum=DIAMETER_POSSIBLE_UM.low, maximum=DIAMETER_POSSIBLE_UM.high)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Passing:
    """Percent that passes one sieve, as given."""

    opening_um: Opening
    percent: Percent


@dataclass(frozen=True, slots=True, kw_only=True)
class HydrometerPoint:
    """A ready percentage of the fines."""

    diameter_um: Diameter
    percent_of_fines: Percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Aliquot:
    """One drawn and dried aliquot."""

    name: Literal["silt and clay", "clay"]
    volume_ml: Positive
    dish_g: Positive
    """The empty dish."""
    dish_and_residue_g: Positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Sieves:
    """A stack of sieves, alone or with ready hydrometer percentages of its fines."""

    kind: Literal["sieves"]
    title: Words
    source: str = ""
    started_with_g: SampleMass | None = None
    """Oven-dry mass of the portion, before it was washed if it was."""
    washed_dry_mass_g: SampleMass | None = None
    """Left on the finest sieve after washing, and put on the stack; left out for a portion that was not washed."""
    sieves: Stack = ()
    """In falling order of opening."""
    pan_g: SieveMass | None = None
    """Left in the pan after sieving, without what was washed away."""
    passing: Annotated[tuple[Passing, ...], keywords(minItems=1)] = ()
    """In place of all masses: percents that somebody made of them, in falling order of opening."""
    fines_split_um: Positive | None = None
    """Opening of the sieve whose fines the hydrometer percentages are of."""
    hydrometer_points: Annotated[tuple[HydrometerPoint, ...], keywords(minItems=1)] = ()
    """In falling order of diameter."""
    KEYWORDS: ClassVar[Mapping[str, Any]] = MappingProxyType(
        {
            "dependentRequired": {
                "hydrometer_points": ["fines_split_um"],
                "fines_split_um": ["hydrometer_points"],
                "sieves": ["pan_g"],
                "pan_g": ["sieves"],
                "started_with_g": ["sieves"],
                "washed_dry_mass_g": ["started_with_g"],
            },
            "anyOf": [{"required": ["sieves"]}, {"required": ["passing"]}],
            "not": {"required": ["sieves", "passing"]},
        }
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipette:
    """A pipette test."""

    kind: Literal["pipette"]
    title: Words
    source: str = ""
    portion: Portion
    volume_ml: Positive
    """Filled volume of the cylinder."""
    dispersant_g_l: NotNegative = 0.0
    """In the filled cylinder."""
    aliquots: Annotated[tuple[Aliquot, ...], keywords(minItems=1)]
    """Several of one size are averaged when they agree."""
    printed: PrintedResults | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """One sample of a list that somebody else determined."""

    name: Words
    profile: str = ""
    """Place whose depths belong together."""
    top_cm: float | None = None
    bottom_cm: float | None = None
    sand: PrintedFigure
    """As printed. [%]"""
    silt: PrintedFigure
    """As printed. [%]"""
    clay: PrintedFigure
    """As printed. [%]"""
    texture_class: str = ""
    """As the list gives it; needs texture_system."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """Sand, silt and clay that somebody else determined, to be checked and never put right."""

    kind: Literal["results"]
    title: Words
    source: str = ""
    size_limits_um: SizeLimits | None = None
    """What the list calls clay and silt."""
    texture_system: Words | None = None
    """Whose classes the list gives."""
    rows: Annotated[tuple[ResultRow, ...], keywords(minItems=1)]
    """In the order of the list."""


BenchSheet = Run | Sieves | Pipette | Results
