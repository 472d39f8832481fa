"""Readings of two neighbours that fit better in each other's row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from particles.distribution.answer import SizeDistribution
from particles.distribution.inputs.noise import percent_per_g_l, reading_sd_g_l, steady_nets_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord


@dataclass(frozen=True, slots=True)
class Exchange:
    """An exchange of readings between two neighbours that would heal both curves."""

    slot: int
    """Index of the first reading exchanged."""
    only_this: bool
    """True: this reading alone; False: it and all after it."""
    gain_g_l: float
    """Rises and excesses before less after, root of the sum of squares over both runs. [g/L]"""
    left_g_l: float
    """What remains after the exchange, in the same measure. [g/L]"""


def best_exchange(
    one: RunRecord,
    one_distribution: SizeDistribution,
    other: RunRecord,
    other_distribution: SizeDistribution,
    method: MethodEdition,
) -> Exchange | None:
    """
    The exchange that heals both curves, or None.

    It must remove more than reading noise makes and leave no more than noise. Two soils that differ by less
    than their curves fall between the slots cannot be told apart this way.
    """
    if not one_distribution.points or not other_distribution.points:
        return None
    mine, theirs = _by_slot(one, one_distribution), _by_slot(other, other_distribution)
    slots = sorted(set(mine) & set(theirs))
    all_mine, all_theirs = _all_g_l(one, one_distribution), _all_g_l(other, other_distribution)
    before = _misfit(mine, all_mine) + _misfit(theirs, all_theirs)
    noise = sqrt(2.0) * reading_sd_g_l(one, method)
    limit = (method.limits.noise_stop_sd * noise) ** 2
    if before <= limit:
        return None
    best: tuple[float, Exchange] | None = None
    for place, slot in enumerate(slots):
        for only_this in (False, True):
            swapped = [slot] if only_this else slots[place:]
            after = _misfit({**mine, **{k: theirs[k] for k in swapped}}, all_mine)
            after += _misfit({**theirs, **{k: mine[k] for k in swapped}}, all_theirs)
            healed = before - after > limit and after <= (method.limits.noise_warn_sd * noise) ** 2
            if healed and (best is None or after < best[0]):
                best = (after, Exchange(slot, only_this, sqrt(before - after), sqrt(after)))
    return None if best is None else best[1]


def _by_slot(record: RunRecord, distribution: SizeDistribution) -> dict[int, float]:
    nets = steady_nets_g_l(record, distribution.points)
    return {point.reading_index: net for point, net in zip(distribution.points, nets, strict=True)}


def _all_g_l(record: RunRecord, distribution: SizeDistribution) -> float:
    """Corrected reading of the whole portion in suspension. [g/L of 2.65 g/cm³]"""
    assert distribution.oven_dry_mass_g is not None
    return 100.0 / percent_per_g_l(record, distribution.oven_dry_mass_g)


def _misfit(nets: dict[int, float], all_g_l: float) -> float:
    """Squares of what no settling suspension does: rises, and more than the portion. [(g/L)²]"""
    values: Sequence[float] = [nets[slot] for slot in sorted(nets)]
    rises = sum(max(after - before, 0.0) ** 2 for before, after in pairwise(values))
    return rises + sum(max(value - all_g_l, 0.0) ** 2 for value in values)
