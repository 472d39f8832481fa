"""One value for each of sand, silt and clay, in this order everywhere."""

from __future__ import annotations

from typing import Generic, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Part = TypeVar("Part")
Percent = TypeVar("Percent", float, NDArray[np.float64])


class SandSiltClay(NamedTuple, Generic[Part]):
    """
    Sand, silt and clay: percents, uncertainties, drawn percents (draws,), whatever the three share.

    A tuple, so that it is stored as a plain list in this order, as the rows of a covariance are.
    """

    sand: Part
    silt: Part
    clay: Part


def with_silt_between(sand_pct: Percent, clay_pct: Percent) -> SandSiltClay[Percent]:
    """Fractions of which silt is what sand and clay leave of 100 %. [%]"""
    return SandSiltClay(sand_pct, 100.0 - sand_pct - clay_pct, clay_pct)
