"""Classes in the further systems an edition names, each from fractions at its own size limits."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import CurvePoint, Fractions, TextureClass
from particles.distribution.curve.reading_off import percent_finer_at_size
from particles.distribution.method.edition import MethodEdition
from particles.distribution.texture.systems import TextureSystem, texture_of, texture_system
from particles.distribution.triple import SandSiltClay, with_silt_between


def parts_at(
    fractions: Fractions,
    curve: Sequence[CurvePoint],
    method: MethodEdition,
    clay_limit_um: float,
    sand_limit_um: float,
) -> SandSiltClay[float] | None:
    """
    Sand, silt and clay at other size limits. [%]

    A limit the reported fractions already hold is taken from them; any other is read off the joined curve by the
    edition's rule, never beyond its points. None when a limit lies beyond.
    """
    read = percent_finer_at_size(curve, (clay_limit_um, sand_limit_um), method.interpolation)
    clay = fractions.clay.value_pct if clay_limit_um == fractions.clay_limit_um else read[0]
    coarser = None if read[1] is None else 100.0 - read[1]
    sand = fractions.sand.value_pct if sand_limit_um == fractions.sand_limit_um else coarser
    if clay is None or sand is None:
        return None
    return with_silt_between(sand, clay)


def reportable(system: TextureSystem, confirmed_systems: Sequence[str]) -> bool:
    """Whether a system's lines were read at a source, or checked by the laboratory."""
    return system.confirmed or system.code in confirmed_systems


def other_textures(
    fractions: Fractions, curve: Sequence[CurvePoint], method: MethodEdition
) -> tuple[tuple[TextureClass, ...], tuple[TextureSystem, ...]]:
    """One class per system of the edition, and the systems left without one."""
    classes: list[TextureClass] = []
    without: list[TextureSystem] = []
    for code in method.also_systems:
        system = texture_system(code)
        parts = None
        if reportable(system, method.confirmed_systems):
            parts = parts_at(fractions, curve, method, system.clay_limit_um, system.sand_limit_um)
        if parts is None:
            without.append(system)
        else:
            classes.append(texture_of(system, *parts))
    return tuple(classes), tuple(without)
