"""
The frozen content of one certificate: the only source of its page, its PDF and its data files.

Everything a reader sees is already a string here, rounded once, so that no two
renderings can print different figures. `unrounded` values are carried beside
them only where a chart needs a position.
"""

from __future__ import annotations

from dataclasses import dataclass

ON_A_LINE = " (on a class line)"
"""Follows the class of a point that a boundary rule decided."""
NOT_DETERMINED = "not determined"
"""Stands for a detection limit or an interval of a run without uncertainty."""


@dataclass(frozen=True, slots=True)
class FractionRow:
    """One fraction as the certificate prints it."""

    name: str
    """'sand', 'silt', 'clay'."""
    limits: str
    """In words and numbers, e.g. 'coarser than 50 µm, finer than 2 mm'."""
    printed_pct: str
    """What the page shows: '< 6' for a fraction below detection, else the figure."""
    interval_pct: str
    """'31 to 38' (95 % interval) or 'not determined'."""
    value_pct: str
    """As computed, in whole percent, also of a fraction below detection; the three total 100."""
    below_detection: bool
    """True when the run does not tell the fraction from nothing."""
    detection_limit_pct: str
    """Of the run, in whole percent rounded upward, or 'not determined'."""


@dataclass(frozen=True, slots=True)
class QualifierRow:
    """One qualifier as the certificate prints it."""

    title: str
    """What it is in plain words, such as 'sieve and hydrometer agree'; no code of the program."""
    severity: str
    """'note', 'warn' or 'stop'."""
    sentence: str
    effect: str
    """What it means for the figures: what it may move, which way, and whether the interval counts it."""


@dataclass(frozen=True, slots=True)
class CurveRow:
    """One point of the size curve, as a number and as printed."""

    diameter_um: float
    percent_finer: float
    source: str
    """'sieve' or 'hydrometer'."""
    diameter_text: str
    percent_text: str


@dataclass(frozen=True, slots=True)
class SampleSection:
    """One sample of the certificate."""

    lab_number: str
    client_label: str
    depth: str
    """As the client gave it, with unit, or ''."""
    condition: str
    sampled_on: str
    received_on: str
    tested_from: str
    tested_to: str
    pretreatment: str
    attempt: int
    oven_dry_mass_g: str
    particle_density: str
    """'2.65 g/cm³ (assumed)'."""
    dispersant: str
    temperature_range: str
    gravel_pct: str
    """Of the whole sample, kept apart from the fine-earth figures."""
    reported: bool
    """False when a stop finding forbids figures; then fractions and curve are empty and `qualifiers` says why."""
    fractions: tuple[FractionRow, ...]
    below_detection_note: str
    """What “<” means here and how the three total 100 with it, or '' when every figure is printed."""
    texture_class: str
    texture_system: str
    class_chances: str
    """'loam 62 %, clay loam 38 %'."""
    qualifiers: tuple[QualifierRow, ...]
    curve: tuple[CurveRow, ...]
    sand_pct: float | None
    silt_pct: float | None
    clay_pct: float | None
    """Unrounded, for the place in the triangle only."""
    inputs_digest: str
    engine_version: str
    seed: int | None


@dataclass(frozen=True, slots=True)
class NotInPart:
    """One sample of the job that a part of its results does not hold."""

    lab_number: str
    client_label: str
    why: str
    """In a client's words, such as 'waiting to be dried and sieved' or 'on certificate C26-0001'."""


@dataclass(frozen=True, slots=True)
class PartOfJob:
    """Which part of the job's results a certificate is, and what is not in it."""

    number: int
    as_of: str
    """Day on which the part was first issued: what is not in it is told as it was then."""
    not_in_it: tuple[NotInPart, ...]


@dataclass(frozen=True, slots=True)
class CertificateContext:
    """The whole content of a certificate."""

    number: str
    revision: int
    part: PartOfJob | None
    """None for all the results of a job."""
    replaces: str
    """Number of the certificate this one replaces, or ''."""
    what_changed: str
    laboratory_name: str
    laboratory_address: str
    laboratory_contact: str
    where_done: str
    invented: bool
    """True for the demonstration laboratory: printed on every page."""
    client_name: str
    client_address: str
    client_contact: str
    client_reference: str
    """The client's own order number, or ''."""
    job_number: str
    issued_on: str
    issued_at: str
    """ISO 8601, UTC: also the fixed timestamp of the PDF."""
    authorised_by: str
    authorised_role: str
    approved_by: str
    approved_on: str
    method_title: str
    method_code: str
    method_statements: tuple[str, ...]
    """Size limits in words, basis, schedule, depth rule, interpolation, boundary rule, sources."""
    deviations: tuple[str, ...]
    uncertainty_statement: str
    statements: tuple[str, ...]
    """Applies to the samples as received; not to be reproduced except in full; who supplied what."""
    samples: tuple[SampleSection, ...]
    check_url: str
    """Address of the public check page for this number, printed as text and QR code."""
    check_code: str
