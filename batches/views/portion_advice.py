"""
Nominal mass of a portion by field texture.

Chosen so that the first corrected reading lies at 15 to 45 g/L and the last at 5 g/L or more.
*Common practice*: 20-30 g clays, 40-50 g loams, 75-100 g sands (method.md section 10).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Advice:
    from_g: int
    to_g: int
    because: str


SAND = (75, 100, "A sand: less would read too close to the blank.")
LOAM = (40, 50, "A loam or silt: the usual portion.")
CLAY = (20, 30, "A clay: more would read past the end of the stem.")
UNKNOWN = (40, 50, "No texture by feel is recorded; sands need 75 to 100 g, clays 20 to 30 g.")


def advice(field_texture: str) -> Advice:
    """What to weigh for a texture told by feel; the last word names the group."""
    words = field_texture.lower().split()
    last = words[-1] if words else ""
    for ending, found in (("sand", SAND), ("clay", CLAY), ("loam", LOAM), ("silt", LOAM)):
        if last.rstrip("s").endswith(ending):
            return Advice(*found)
    return Advice(*UNKNOWN)
