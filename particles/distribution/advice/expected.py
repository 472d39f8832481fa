"""
The curve a soil may be expected to have before it is run, from a field texture or from expected fractions.

Common practice, for planning only; no figure of a result rests on it.
"""

from __future__ import annotations

from itertools import pairwise

from particles.distribution.curve.interpolation import read_between
from particles.distribution.errors import UnknownTextureError
from particles.distribution.texture.corners import USDA_POLYGONS
from particles.distribution.texture.usda import USDA_LIMITS_UM
from particles.distribution.triple import SandSiltClay, with_silt_between

FINEST_CLAY_UM = 0.02
"""Size at which the clay is taken to end, straight in log diameter; a planning figure of this program. [µm]"""


def class_centre(name: str) -> SandSiltClay[float]:
    """
    Sand, silt and clay at the centre of area of a USDA class. [%]

    Raises
    ------
    UnknownTextureError when it is none of the twelve.
    """
    corners = USDA_POLYGONS.get(name.strip().lower())
    if corners is None:
        raise UnknownTextureError("No USDA class has this name", name, f"Known: {', '.join(USDA_POLYGONS)}.")
    area = sand = clay = 0.0
    for (ax, _, ay), (bx, _, by) in pairwise((*corners, corners[0])):
        cross = ax * by - bx * ay
        area, sand, clay = area + cross, sand + (ax + bx) * cross, clay + (ay + by) * cross
    return with_silt_between(sand / (3.0 * area), clay / (3.0 * area))


class ExpectedCurve:
    """Percent finer, straight in log diameter through 2000 µm, the sand and the clay limit, and the end of clay."""

    def __init__(
        self, expected: str | SandSiltClay[float], limits_um: tuple[float, float] = USDA_LIMITS_UM
    ) -> None:
        self.fractions_pct = class_centre(expected) if isinstance(expected, str) else expected
        sand, silt, clay = self.fractions_pct
        if min(sand, silt, clay) < 0.0 or abs(sand + silt + clay - 100.0) > 0.5:
            raise UnknownTextureError(
                "Expected sand, silt and clay must add up to 100 %",
                f"{sand:g}, {silt:g}, {clay:g}",
                "Give percentages, or the name of a USDA class.",
            )
        self.sizes_um = (2000.0, limits_um[1], limits_um[0], FINEST_CLAY_UM)
        self.percents = (100.0, 100.0 - sand, clay, 0.0)

    def percent_finer(self, size_um: float) -> float:
        """Percent finer at a size, held at the ends of the curve. [%]"""
        within = min(max(size_um, self.sizes_um[-1]), self.sizes_um[0])
        return read_between(self.sizes_um, self.percents, within)
