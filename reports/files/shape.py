"""
The shape of a certificate's data file: what its JSON holds, as frozen values in the order of the file.

The one place where the file is written down: it is made from these values, and `schema.json` beside this module
describes them. Every key is there in every file. Figures are the strings of the printed page.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Literal

from particles.bench_sheet.json_schema import keywords
from particles.distribution import Severity

Words = Annotated[str, keywords(minLength=1)]


@dataclass(frozen=True, slots=True)
class Fraction:
    """One fraction of a sample."""

    name: Literal["sand", "silt", "clay"]
    limits: Words
    """Size limits in words."""
    printed_pct: Words
    """Percent by mass of the oven-dry soil finer than 2 mm, as printed: a figure, or less than a limit, e.g. '< 6'."""
    interval_pct: Words
    """95 % interval as printed, or 'not determined'."""
    value_pct: Words
    """As computed, in whole percent; the three of a sample total 100. Not what is printed where below_detection is."""
    below_detection: bool
    """True when the run cannot tell the fraction from none: printed_pct is then '<' and detection_limit_pct."""
    detection_limit_pct: Words
    """Of this run and fraction, in whole percent rounded upward, or 'not determined'."""


@dataclass(frozen=True, slots=True)
class Qualifier:
    """One qualifier of a sample's figures."""

    title: Words
    """What it is, in plain words."""
    severity: Severity
    sentence: Words
    effect: Words
    """What it means for the figures: what it may move, which way, and whether the interval counts it."""


@dataclass(frozen=True, slots=True)
class Point:
    """One point of the size curve."""

    diameter_um: Words
    """As printed. [µm]"""
    percent_finer: Words
    """As printed. [%]"""
    source: Literal["sieve", "hydrometer"]


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample; without figures when it is not reported."""

    lab_number: Words
    client_label: str
    """Supplied by the client."""
    depth: str
    """As the client gave it, with unit, or empty."""
    condition: str
    sampled_on: str
    received_on: str
    tested_from: str
    tested_to: str
    pretreatment: str
    attempt: Annotated[int, keywords(minimum=1)]
    oven_dry_mass_g: str
    """[g]"""
    particle_density: str
    """With unit, and whether assumed or measured."""
    dispersant: str
    temperature_range: str
    """With unit."""
    gravel_pct: str
    """Percent of the whole sample, apart from the fractions."""
    reported: bool
    """False when a stop qualifier forbids figures."""
    fractions: tuple[Fraction, ...]
    below_detection_note: str
    """What '<' means here and how the three figures total 100 with it; empty without one."""
    texture_class: str
    texture_system: str
    class_chances: str
    qualifiers: tuple[Qualifier, ...]
    curve: tuple[Point, ...]
    """In falling order of diameter."""
    inputs_digest: str
    """Digest of everything the figures were computed from."""
    engine_version: str
    seed: int | None
    """Random seed of the uncertainty draws."""
    KEYWORDS: ClassVar[Mapping[str, Any]] = MappingProxyType(
        {
            "if": {"properties": {"reported": {"const": False}}},
            "then": {
                "properties": {
                    "fractions": {"maxItems": 0},
                    "curve": {"maxItems": 0},
                    "texture_class": {"const": ""},
                    "class_chances": {"const": ""},
                    "qualifiers": {"minItems": 1},
                }
            },
            "else": {"properties": {"fractions": {"minItems": 3, "maxItems": 3}}},
        }
    )


@dataclass(frozen=True, slots=True)
class NotInPart:
    """One sample of the job that the part does not hold."""

    lab_number: Words
    client_label: str
    """Supplied by the client."""
    why: Words


@dataclass(frozen=True, slots=True)
class Part:
    """Which part of the job's results the certificate is."""

    number: Annotated[int, keywords(minimum=1)]
    as_of: Words
    """Day of the first issue: what is not in it is told as it was then."""
    not_in_it: tuple[NotInPart, ...]


@dataclass(frozen=True, slots=True)
class DataFile:
    """
    One certificate of particle-size distribution.

    Every figure is a string, rounded once, equal to the printed page.
    """

    format: Literal["siltbook certificate data"]
    format_version: Literal[5]
    """
    Version 1 named a qualifier by a code of the program; 2 had no detection limits and printed value_pct; 3 did not
    say of which part of a job it is; 4 did not say what a qualifier means for the figures.
    """
    number: Words
    """Certificate number."""
    revision: Annotated[int, keywords(minimum=0)]
    part: Part | None
    """Null for a certificate of all the results of the job."""
    replaces: str
    """Number of the certificate this one replaces, or empty."""
    what_changed: str
    laboratory_name: Words
    laboratory_address: str
    laboratory_contact: str
    where_done: str
    invented: bool
    """True for the demonstration laboratory: nothing in the file is real."""
    client_name: Words
    client_address: str
    client_contact: str
    client_reference: str
    """The client's own order number, or empty."""
    job_number: Words
    issued_on: str
    issued_at: Annotated[str, keywords(format="date-time")]
    authorised_by: Words
    authorised_role: str
    approved_by: Words
    approved_on: str
    method_title: Words
    method_code: Words
    method_statements: tuple[str, ...]
    """Size limits in words, basis, schedule, rules."""
    deviations: tuple[str, ...]
    """Departures from the method."""
    uncertainty_statement: str
    statements: tuple[str, ...]
    """What the results apply to, and the terms of copying."""
    samples: Annotated[tuple[Sample, ...], keywords(minItems=1)]
    check_url: Annotated[str, keywords(format="uri")]
    """Address that says whether this number is genuine and current."""
    check_code: str
