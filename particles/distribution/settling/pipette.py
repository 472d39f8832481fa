"""Pipette test: when to draw aliquots, and their dry residues turned into percentages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from particles.distribution.settling.stokes import settling_time_s
from particles.distribution.settling.water import solution_density_g_cm3, solution_viscosity_mpa_s


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
    """Soil in suspension by one aliquot, in percent of the oven-dry portion. [%]"""
    return 100.0 * suspended_g(aliquot, volume_ml, dispersant_g_l) / oven_dry_mass_g


@dataclass(frozen=True, slots=True)
class PipetteEdition:
    """One edition of the pipette method; a hydrometer run is never computed by it."""

    code: str
    title: str
    edition_on: str
    """Day of the edition, ISO 8601."""
    sizes_um: tuple[float, ...]
    """Sizes at which an aliquot is drawn, falling: the sand limit first, the clay limit last. [µm]"""
    depth_cm: float = 10.0
    aliquot_ml: float = 25.0
    portion_g: tuple[float, float] = (10.0, 30.0)
    """Usual oven-dry portion, from and to."""
    sources: tuple[str, ...] = ()

    def withdrawal_times_s(
        self, temperature_c: float, particle_density_g_cm3: float = 2.65, dispersant_g_l: float = 0.0
    ) -> tuple[float, ...]:
        """When each size has left the depth at a steady temperature, in the order of sizes_um. [s]"""
        viscosity = solution_viscosity_mpa_s(temperature_c, dispersant_g_l)
        excess = particle_density_g_cm3 - solution_density_g_cm3(temperature_c, dispersant_g_l)
        return tuple(settling_time_s(self.depth_cm, size_um, viscosity, excess) for size_um in self.sizes_um)


PIPETTE_EDITIONS: Mapping[str, PipetteEdition] = MappingProxyType(
    {
        "pipette-2026-1": PipetteEdition(
            "pipette-2026-1",
            "Pipette, aliquots at 50, 20 and 2 µm from 10 cm",
            "2026-01-05",
            (50.0, 20.0, 2.0),
            sources=(
                "Aliquot of 25 mL from 10 cm: C. F. Shaw and E. F. Miles 1940; portion 10 to 30 g: from memory",
                "Times from Stokes 1851 at the temperature of the suspension",
            ),
        )
    }
)
"""Code -> edition."""
