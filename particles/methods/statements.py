"""A method edition in sentences a client reads."""

from __future__ import annotations

from particles.distribution import MethodEdition
from particles.distribution.spoken import spoken_time


def statements(edition: MethodEdition) -> list[str]:
    """Sentences that describe a method edition to a client."""
    clay_um, sand_um = edition.clay_limit_um, edition.sand_limit_um
    readings = f"Readings at {', '.join(spoken_time(s) for s in edition.schedule_s)} after stirring."
    soak = f"Soaked in dispersant for at least {edition.soak_minimum_h:g} h."
    if not edition.certifiable:
        return [
            "Results by reading time, not by size: no sand, silt and clay at size limits.",
            readings,
            soak,
        ]
    limits = (
        f"Clay finer than {clay_um:g} µm, silt {clay_um:g} to {sand_um:g} µm, sand {sand_um:g} to 2000 µm "
        f"({edition.texture_system} texture). Percentages of the soil finer than 2 mm."
    )
    return [limits, readings, soak]
