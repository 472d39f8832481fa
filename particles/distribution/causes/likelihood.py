"""
How well a record agrees with everything known of its soil, as a logarithm of a likelihood.

The terms: what no settling suspension does, the join of sieve and hydrometer, the texture by hand, the mass that was
asked for, the portion in suspension, duplicates of one sample, and what a reference soil holds. Differences of it
between two ways to read one batch are logarithms of odds, but for what is known before (`exchanges.WHOLE_PRIOR`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import exp, hypot, log

from particles.distribution.answer import SizeDistribution
from particles.distribution.causes.by_hand import log_likelihood
from particles.distribution.causes.evidence import RunEvidence
from particles.distribution.compute import compute_distribution
from particles.distribution.curve.interpolation import read_between
from particles.distribution.curve.points import by_size
from particles.distribution.errors import DistributionError
from particles.distribution.inputs.between_run import between_run_sds
from particles.distribution.inputs.noise import percent_per_g_l, reading_sd_g_l, steady_nets_g_l
from particles.distribution.inputs.portion import portion_mass
from particles.distribution.method.edition import MethodEdition
from particles.distribution.record import RunRecord
from particles.distribution.sieves.stack import percent_passing, sieved_portion_g

FARTHEST = -12.5
"""Least value of one Gaussian term, that of five standard deviations: blunders have longer tails. [-]"""
JOIN_SD_PCT = 2.0
"""Step between a sound sieve and a sound hydrometer, one standard deviation; *common practice*. [%]"""
ASKED_SD_PCT = 1.5
"""How closely a portion is weighed to the mass that was asked for; *common practice*. [% of the mass]"""
ALIKE_SAND_PCT = 12.0
"""Difference in sand of two samples of one place, one standard deviation. *Common practice*. [percentage points]"""
ALIKE_CLAY_PCT = 10.0
"""The same of clay. *Common practice*. [percentage points]"""
UNLIKE = 0.1
"""Share of neighbours in a profile that differ by anything: another layer, another deposit. *Common practice*. [-]"""
UNLIKE_FLAT = 0.15
"""Density of such a difference per that of two alike at its centre: 2 π sd sd of the triangle's area. [-]"""
NO_FIGURES = -8.0
"""A record nothing can be computed from fits badly, whatever it is. [-]"""


@dataclass(frozen=True, slots=True)
class Seen:
    """One way to read one run: its record, and what is computed from it without draws."""

    evidence: RunEvidence
    record: RunRecord
    distribution: SizeDistribution | None

    @property
    def sand_clay_pct(self) -> tuple[float, float] | None:
        """Sand and clay; None without fractions. [%]"""
        fractions = None if self.distribution is None else self.distribution.fractions
        return None if fractions is None else (fractions.percents.sand, fractions.percents.clay)


def seen_as(evidence: RunEvidence, record: RunRecord, method: MethodEdition) -> Seen:
    """A run as another record would show it."""
    try:
        return Seen(evidence, record, compute_distribution(record, method, draws=0))
    except DistributionError:
        return Seen(evidence, record, None)


def run_log_likelihood(seen: Seen, method: MethodEdition) -> float:
    """How well one run agrees with itself and with what its own sample is known for."""
    distribution, total = seen.distribution, 0.0
    if distribution is None or not distribution.points:
        return NO_FIGURES
    total += Suspension.of(seen.record, distribution, method).log_likelihood
    total += _join(seen.record, distribution, method)
    if seen.evidence.asked_mass_g and seen.record.air_dry_mass_g:
        off = log(seen.record.air_dry_mass_g / seen.evidence.asked_mass_g)
        total += _gaussian(100.0 * off / ASKED_SD_PCT)
    if distribution.fractions is None:
        return total + NO_FIGURES
    if seen.evidence.by_hand is not None:
        total += log_likelihood(seen.evidence.by_hand, distribution.fractions.percents)
    known = seen.evidence.reference
    if known is not None:
        sand, _, clay = distribution.fractions.percents
        total += _gaussian((sand - known.percents.sand) / known.sand_sd_pct)
        total += _gaussian((clay - known.percents.clay) / known.clay_sd_pct)
    return total


def pairs_log_likelihood(seen: Mapping[str, Seen], method: MethodEdition) -> float:
    """How well the duplicates of a batch agree with their first portions."""
    total = 0.0
    for each in seen.values():
        first = None if each.evidence.duplicate_of is None else seen.get(each.evidence.duplicate_of)
        if first is None:
            continue
        mine, theirs = each.sand_clay_pct, first.sand_clay_pct
        if mine is None or theirs is None:
            continue
        sds = between_run_sds(each.record, method, sand_pct=mine[0], clay_pct=mine[1])
        for a, b, sd in zip(mine, theirs, (sds.sand_pct, sds.clay_pct), strict=True):
            total += _gaussian((a - b) / (2.0**0.5 * sd))
    return total


def profiles_log_likelihood(seen: Mapping[str, Seen]) -> float:
    """
    How alike the samples of one place are, each beside the next one below it.

    Some are not alike at all: a share of `UNLIKE` may differ by anything.
    """
    by_place: dict[str, list[Seen]] = defaultdict(list)
    for each in seen.values():
        if each.evidence.profile and each.evidence.duplicate_of is None:
            by_place[each.evidence.profile].append(each)
    total = 0.0
    for place in by_place.values():
        ordered = sorted(place, key=lambda each: each.evidence.depth_cm or 0.0)
        for above, below in pairwise(ordered):
            mine, theirs = above.sand_clay_pct, below.sand_clay_pct
            if mine is not None and theirs is not None:
                squares = ((mine[0] - theirs[0]) / ALIKE_SAND_PCT) ** 2
                squares += ((mine[1] - theirs[1]) / ALIKE_CLAY_PCT) ** 2
                total += log((1.0 - UNLIKE) * exp(-0.5 * squares) + UNLIKE * UNLIKE_FLAT)
    return total


def _gaussian(sds: float) -> float:
    return max(-0.5 * sds * sds, FARTHEST)


@dataclass(frozen=True, slots=True)
class Suspension:
    """Corrected readings of one run beside what the whole portion would show and the noise of their steps."""

    nets_g_l: Mapping[int, float]
    """By index of the reading. [g/L of 2.65 g/cm³]"""
    all_g_l: float
    step_sd_g_l: float

    @classmethod
    def of(cls, record: RunRecord, distribution: SizeDistribution, method: MethodEdition) -> Suspension:
        """Readings of a run whose portion has a mass."""
        assert distribution.oven_dry_mass_g is not None
        nets = steady_nets_g_l(record, distribution.points)
        return cls(
            {point.reading_index: net for point, net in zip(distribution.points, nets, strict=True)},
            100.0 / percent_per_g_l(record, distribution.oven_dry_mass_g),
            2.0**0.5 * reading_sd_g_l(record, method),
        )

    @property
    def log_likelihood(self) -> float:
        """Rises, more than the portion, and less than nothing, against the noise of a reading."""
        values = [self.nets_g_l[slot] for slot in sorted(self.nets_g_l)]
        steps = [max(after - before, 0.0) for before, after in pairwise(values)]
        beyond = [max(value - self.all_g_l, -value, 0.0) for value in values]
        return sum(_gaussian(each / self.step_sd_g_l) for each in (*steps, *beyond))


def join_step_pct(record: RunRecord, distribution: SizeDistribution) -> float | None:
    """
    Percent passing the finest sieve less percent finer by the hydrometer at that size. [%]

    The hydrometer's curve runs straight in log diameter; None without a sieve, or where the curve does not reach it.
    """
    mass = portion_mass(record)
    if record.sieving is None or mass is None or not record.sieving.sieves:
        return None
    last = percent_passing(record.sieving.sieves, sieved_portion_g(record.sieving, mass.mass_g))[-1]
    points = by_size(distribution.points)
    if points and points[0].diameter_um < last.diameter_um:
        return min(last.percent_finer - points[0].percent_finer, 0.0)
    if len(points) < 2 or points[-1].diameter_um > last.diameter_um:
        return None
    sizes_um, percents = [p.diameter_um for p in points], [p.percent_finer for p in points]
    return last.percent_finer - read_between(sizes_um, percents, last.diameter_um)


def _join(record: RunRecord, distribution: SizeDistribution, method: MethodEdition) -> float:
    step = join_step_pct(record, distribution)
    if step is None:
        return 0.0
    assert distribution.oven_dry_mass_g is not None
    noise = reading_sd_g_l(record, method) * percent_per_g_l(record, distribution.oven_dry_mass_g)
    return _gaussian(step / hypot(JOIN_SD_PCT, noise))
