"""Oven-dry mass of the portion: given, or from its air-dry mass and moisture."""

from __future__ import annotations

from dataclasses import dataclass

from particles.distribution.record import RunRecord


@dataclass(frozen=True, slots=True)
class PortionMass:
    """Oven-dry mass of a portion, and where it comes from."""

    mass_g: float
    """Mass that percentages refer to. [g]"""
    basis: str
    """'weighed oven-dry', 'air-dry less moisture' or 'air-dry, moisture unknown'."""
    derived: bool = False
    """True when a moisture went into it."""


def portion_mass(record: RunRecord) -> PortionMass | None:
    """The mass percentages refer to; None when no mass was given."""
    if record.oven_dry_mass_g is not None:
        return PortionMass(record.oven_dry_mass_g, "weighed oven-dry")
    if record.air_dry_mass_g is None:
        return None
    if record.moisture_pct is None:
        return PortionMass(record.air_dry_mass_g, "air-dry, moisture unknown")
    mass_g = by_moisture_g(record.air_dry_mass_g, record.moisture_pct)
    return PortionMass(mass_g, "air-dry less moisture", True)


def by_moisture_g(air_dry_g: float, moisture_pct: float) -> float:
    """Oven-dry mass behind an air-dry one of that moisture, on oven-dry basis. [g]"""
    return air_dry_g / (1.0 + moisture_pct / 100.0)


def moisture_pct(air_dry_g: float, oven_dry_g: float) -> float:
    """Air-dry moisture on oven-dry basis. [%]"""
    return 100.0 * (air_dry_g - oven_dry_g) / oven_dry_g
