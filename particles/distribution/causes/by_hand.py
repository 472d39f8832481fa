"""
Texture by hand against measured fractions: how likely a hand names a class for a soil of known composition.

The hand is taken to judge sand to 6 and clay to 4 percentage points (standard deviation) and then to name the class
it falls into; one time in fifty it names any class at all. *Common practice*, and wider than the uncertainty of hand
estimates published by a comparison on 3,896 samples: 2.3 and 1.7 points (fixtures/reference/repeatability.json, T3).
"""

from __future__ import annotations

from functools import cache
from math import erf, erfc, exp, hypot, log, sqrt

import numpy as np
from numpy.typing import NDArray

from particles.distribution.causes.evidence import ByHand
from particles.distribution.texture.usda import USDA_CLASSES, onto_triangle, usda_codes
from particles.distribution.triple import SandSiltClay, with_silt_between

SAND_SD_PCT = 6.0
CLAY_SD_PCT = 4.0
OTHERS_SD_PCT = 2.5
"""What the measured figure and the rounding of a note to 5 % add to the distance of the two. [percentage points]"""
SLIP = 0.01
"""Share of notes that say anything: another bag, a slip of the pen. [-]"""
FLAT = 0.02
"""Density of such notes per that of a sound note at its centre: 2 π sd sd of the triangle's area. [-]"""
GRID_PCT = 2.0
"""Step of the compositions for which the shares are kept. [%]"""
NODES = 17
"""Steps of the normal distribution in each direction."""


def hand_shares(percents: SandSiltClay[float]) -> NDArray[np.float64]:
    """
    Shares with which a hand names each class for a soil.

    Returns
    -------
    (12,) in the order of USDA_CLASSES, adding up to 1.
    """
    sand = min(max(percents.sand, 0.0), 100.0)
    clay = min(max(percents.clay, 0.0), 100.0 - sand)
    shares: NDArray[np.float64] = _table()[round(sand / GRID_PCT), round(clay / GRID_PCT)]
    return shares


def log_likelihood(by_hand: ByHand, percents: SandSiltClay[float]) -> float:
    """
    How likely a hand says this of such a soil, as a natural logarithm up to a constant.

    Estimates of sand and clay say more than the class they fall into, which then adds nothing.
    """
    if by_hand.sand_pct is None and by_hand.clay_pct is None:
        return 0.0 if by_hand.named is None else log_share(by_hand.named, percents)
    squares = _squares(by_hand, percents)
    return log((1.0 - SLIP) * exp(-0.5 * squares) + SLIP * FLAT)


def rareness(by_hand: ByHand, percents: SandSiltClay[float]) -> float:
    """Share of sound notes on such a soil that lie as far from it or farther. [-]"""
    estimates = (by_hand.sand_pct is not None) + (by_hand.clay_pct is not None)
    if not estimates:
        return 1.0 if by_hand.named is None else surprise(by_hand.named, percents)
    squares = _squares(by_hand, percents)
    return exp(-0.5 * squares) if estimates == 2 else erfc(sqrt(0.5 * squares))


def _squares(by_hand: ByHand, percents: SandSiltClay[float]) -> float:
    """Sum of squares of the distances in sand and clay, in standard deviations of hand and rounding."""
    total = 0.0
    for felt, measured, sd in (
        (by_hand.sand_pct, percents.sand, SAND_SD_PCT),
        (by_hand.clay_pct, percents.clay, CLAY_SD_PCT),
    ):
        if felt is not None:
            total += ((felt - min(max(measured, 0.0), 100.0)) / hypot(sd, OTHERS_SD_PCT)) ** 2
    return total


def log_share(named: str, percents: SandSiltClay[float]) -> float:
    """Natural logarithm of the share with which a hand names a class for a soil."""
    return log(float(hand_shares(percents)[USDA_CLASSES.index(named)]))


def surprise(named: str, percents: SandSiltClay[float]) -> float:
    """Share of notes on such a soil that would name a class no likelier than this one, slips left out. [-]"""
    shares = (hand_shares(percents) - SLIP / len(USDA_CLASSES)) / (1.0 - SLIP)
    own = shares[USDA_CLASSES.index(named)]
    return float(shares[shares <= own + 1e-12].sum())


@cache
def _table() -> NDArray[np.float64]:
    """(sand, clay, class) shares on the grid; outside the triangle, those of its nearest side."""
    size = round(100.0 / GRID_PCT) + 1
    steps, weights = _normal()
    # Every composition on the grid moved by every step of the hand, all classified at once.
    axis = np.arange(size) * GRID_PCT
    sand = axis[:, None, None, None] + SAND_SD_PCT * steps[None, None, :, None]
    clay = axis[None, :, None, None] + CLAY_SD_PCT * steps[None, None, None, :]
    sand, clay = np.broadcast_arrays(sand, clay)
    felt = onto_triangle(*with_silt_between(sand.ravel(), clay.ravel()))
    codes = usda_codes(*(np.round(part, 9) for part in felt)).reshape(size, size, NODES * NODES)
    weight = (weights[:, None] * weights[None, :]).ravel()
    shares = np.stack([(codes == k) @ weight for k in range(len(USDA_CLASSES))], axis=-1)
    return (1.0 - SLIP) * shares + SLIP / len(USDA_CLASSES)


def _normal() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Steps across a normal distribution out to 3 standard deviations, with their weights adding up to 1."""
    edges = np.linspace(-3.0, 3.0, NODES + 1)
    below = np.array([0.5 * (1.0 + erf(edge / sqrt(2.0))) for edge in edges])
    weights = np.diff(below)
    return 0.5 * (edges[1:] + edges[:-1]), weights / weights.sum()
