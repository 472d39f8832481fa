"""Readings of a texture by feel that was typed in free words."""

from __future__ import annotations

from particles.distribution import USDA_CLASSES

NOUNS_WITHOUT_CLAY = ("sand", "loam", "silt")
UNDECIDED = {"no", "not", "without", "non", "slightly"}
"""Words that turn "clay" round: who wrote them did not say that the soil felt clayey, nor that it did not."""


def usda_class_by_feel(field_texture: str) -> str | None:
    """The class of the twelve that the words name exactly; None for everything else."""
    words = " ".join(field_texture.lower().split())
    return words if words in USDA_CLASSES else None


def felt_clayey(field_texture: str) -> bool | None:
    """
    Whether the soil felt clayey: any texture with clay in its name, the clay loams too.

    A clay loam holds 20 % clay or more, twice what a run may show at the end before flocculation is suspected.
    None where nothing was noted or the words do not tell.
    """
    words = field_texture.lower().replace(",", " ").replace("-", " ").split()
    if not words or UNDECIDED & set(words):
        return None
    if {"clay", "clays", "clayey"} & set(words):
        return True
    return False if words[-1].removesuffix("s") in NOUNS_WITHOUT_CLAY else None
