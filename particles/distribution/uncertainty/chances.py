"""Shares of the drawn runs that fall into each class of a texture system."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from particles.distribution.answer import TextureClass
from particles.distribution.texture.systems import class_counts, texture_system
from particles.distribution.texture.usda import onto_triangle
from particles.distribution.triple import SandSiltClay
from particles.distribution.uncertainty.drawn_curve import Floats
from particles.distribution.uncertainty.drawn_run import DrawnRuns


class ClassChances:
    """Counts for one system, from fractions read off at that system's own limits in every draw."""

    def __init__(self, texture: TextureClass) -> None:
        self.texture, self.system = texture, texture_system(texture.system)
        self.counts = np.zeros(len(self.system.classes), dtype=np.intp)

    def add(self, runs: DrawnRuns, own: SandSiltClay[Floats]) -> None:
        """
        Count one more block; draws outside the triangle count at its nearest point.

        Parameters
        ----------
        own : fractions of the runs at the edition's limits, (draws,) each. [%]
        """
        parts = runs.at_limits(self.system.clay_limit_um, self.system.sand_limit_um, own)
        self.counts += class_counts(self.system, *onto_triangle(*parts))

    def stated(self) -> TextureClass:
        """The class with its chances in falling order."""
        total = int(self.counts.sum())
        chances = sorted(
            zip(self.system.classes, self.counts.tolist(), strict=True), key=lambda pair: -pair[1]
        )
        return replace(self.texture, chances=tuple((name, n / total) for name, n in chances if n))
