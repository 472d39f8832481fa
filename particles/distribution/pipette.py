"""Pipette test: dry residues of drawn aliquots turned into percentages."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Aliquot:
    """One drawn and dried aliquot."""

    name: str
    """'silt and clay' or 'clay'."""
    volume_ml: float
    residue_g: float
    """Dry residue in the dish, salt included. [g]"""


def suspended_g(aliquot: Aliquot, volume_ml: float, dispersant_g_l: float = 0.0) -> float:
    """
    Soil in the whole cylinder that the aliquot stands for. [g]

    Parameters
    ----------
    volume_ml : of the suspension. [mL]
    dispersant_g_l : salt taken from the residue; 0 takes nothing off. [g/L]
    """
    salt_g = dispersant_g_l * aliquot.volume_ml / 1000.0
    return (aliquot.residue_g - salt_g) * volume_ml / aliquot.volume_ml


def suspended_pct(
    aliquot: Aliquot, volume_ml: float, oven_dry_mass_g: float, dispersant_g_l: float = 0.0
) -> float:
    """The same in percent of the oven-dry portion. [%]"""
    return 100.0 * suspended_g(aliquot, volume_ml, dispersant_g_l) / oven_dry_mass_g
