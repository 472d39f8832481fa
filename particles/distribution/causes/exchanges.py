"""
Exchanges between two cylinders of a batch, whole runs or rows from a slot on, with their odds.

Every pair is asked whether the batch agrees better with itself, and with what is known of its samples, when the two
are exchanged. A quick look at corrected readings and fractions picks the candidates; those are computed in full.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from math import exp
from typing import Any

from particles.distribution.answer import Finding
from particles.distribution.causes.by_hand import log_likelihood
from particles.distribution.causes.evidence import BatchEvidence, ByHand, RunEvidence
from particles.distribution.causes.likelihood import (
    Seen,
    Suspension,
    pairs_log_likelihood,
    profiles_log_likelihood,
    run_log_likelihood,
    seen_as,
)
from particles.distribution.causes.remedies import exchanged
from particles.distribution.findings.catalogue import finding
from particles.distribution.method.edition import MethodEdition
from particles.distribution.neighbours.batch import BatchFinding, BatchRun
from particles.distribution.record import RunRecord
from particles.distribution.triple import with_silt_between

WHOLE_PRIOR = {True: 1.0 / 2500.0, False: 1.0 / 20_000.0}
"""Whether neighbours -> odds, before anything is looked at, that two given runs were exchanged whole: about one batch
in a hundred holds an exchange, mostly of neighbours. *Common practice*, no count is published. [-]"""
PART_PRIOR = {True: 1.0 / 20_000.0, False: 1.0 / 200_000.0}
"""The same for one given slot from which on, or at which alone, two runs were exchanged. *Common practice*. [-]"""
SCANNED_FACTOR = 0.02
"""What is left of the odds of a whole exchange when sample and cylinder were scanned together. *Common practice*."""
LEAST_ODDS = 0.005
"""An exchange is told from these odds on: missing one costs a client more than looking costs a reviewer. At this about
one clean sample in five hundred is asked about (`tests.support.planted_batches`). [-]"""
MAY_SPEAK = 3.0
"""What sieves that stay, a duplicate, a profile or an assigned value may add in the full look. [-]"""
MOST_GAIN = 50.0
"""Keeps the exponential finite. [-]"""
MOST_ODDS = 1e6
"""More is not told apart. [-]"""
QUICK_LEAST = 2.0
"""Gain of the quick look from which a candidate is computed in full, in logarithm of likelihood. [-]"""


@dataclass(frozen=True, slots=True)
class FoundExchange:
    """One exchange that makes a batch agree better with itself."""

    labels: tuple[str, str]
    slots: tuple[int, ...]
    whole: bool
    with_sieves: bool
    odds: float
    after: tuple[Seen, Seen]


@dataclass(frozen=True, slots=True)
class _Quick:
    """Of one run, what the quick look needs."""

    suspension: Suspension
    settling: float
    """Its logarithm of likelihood as it stands. [-]"""
    mass_g: float
    sand_pct: float
    clay_pct: float
    sieved: bool
    hand: ByHand | None
    elsewhere: bool
    """Whether a duplicate, a profile or an assigned value may speak of it."""


def find_exchanges(
    batch: BatchEvidence, seen: Mapping[str, Seen], method: MethodEdition
) -> list[FoundExchange]:
    """The most probable exchange of every run concerned, the best odds first; no run is in two of them."""
    own = {label: run_log_likelihood(each, method) for label, each in seen.items()}
    quick = {label: q for label, each in seen.items() if (q := _quick(each, method)) is not None}
    together = _together(seen, method)
    order = {run.label: place for place, run in enumerate(batch.runs)}
    found: list[FoundExchange] = []
    for one, other in combinations(quick, 2):
        near = abs(order[one] - order[other]) == 1
        ways = []
        for slots, whole, sieves in _candidates(seen[one], seen[other], near=near):
            prior = _prior(batch, whole=whole, near=near)
            if _quick_gain(quick[one], quick[other], slots, sieves) < QUICK_LEAST:
                continue
            after = _after(seen[one], seen[other], slots, sieves, method)
            gain = sum(run_log_likelihood(each, method) for each in after) - own[one] - own[other]
            gain += _together({**seen, one: after[0], other: after[1]}, method) - together
            ways.append(
                FoundExchange((one, other), slots, whole, sieves, prior * exp(min(gain, MOST_GAIN)), after)
            )
        # Slots next to each other explain one slip nearly as well: the odds are those of any of them.
        odds = sum(way.odds for way in ways)
        if odds >= LEAST_ODDS:
            found.append(replace(max(ways, key=lambda way: way.odds), odds=min(odds, MOST_ODDS)))
    return _one_per_run(found)


def exchange_finding(found: FoundExchange, one: RunRecord) -> Finding:
    """An exchange in the words of the catalogue; `one` is the record of the first of its runs."""
    first, second = found.labels
    if found.whole:
        return finding("runs_exchanged", variant="whole", number=found.odds, label=first, other=second)
    place: dict[str, Any] = {
        "reading_index": found.slots[0],
        "elapsed_s": one.readings[found.slots[0]].elapsed_s,
    }
    variant = "one" if len(found.slots) == 1 else "all_from"
    return finding("runs_exchanged", variant=variant, number=found.odds, label=first, other=second, **place)


def exchanges_by_readings(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """
    Exchanges that readings and sieves of neighbours show by themselves, as findings on the two runs of each.

    Nothing else that is known of the samples is asked, so it may be said to anybody at the bench. `find_exchanges`
    asks every pair, and more of each.

    Parameters
    ----------
    runs : (n,) in the order of their cylinders.
    """
    seen = [Seen(RunEvidence(r.record, r.distribution), r.record, r.distribution) for r in runs]
    found: list[FoundExchange] = []
    for pair in pairwise(seen):
        two = BatchEvidence(tuple(each.evidence for each in pair))
        found += find_exchanges(two, {each.evidence.label: each for each in pair}, method)
    records = {each.evidence.label: each.record for each in seen}
    return [
        BatchFinding(exchange_finding(each, records[each.labels[0]]), each.labels)
        for each in _one_per_run(found)
    ]


def _prior(batch: BatchEvidence, *, whole: bool, near: bool) -> float:
    if not whole:
        return PART_PRIOR[near]
    return WHOLE_PRIOR[near] * (SCANNED_FACTOR if batch.scanned else 1.0)


def _candidates(one: Seen, other: Seen, *, near: bool) -> Iterator[tuple[tuple[int, ...], bool, bool]]:
    """Slots to exchange, whether that is a whole run, and whether its sand goes with it."""
    count = min(len(one.record.readings), len(other.record.readings))
    every = tuple(range(count))
    yield every, True, False
    if one.record.sieving is not None or other.record.sieving is not None:
        yield every, True, True
    for start in range(1, count):
        yield every[start:], False, False
    if near:
        for only in range(count - 1):
            yield (only,), False, False


def _after(
    one: Seen, other: Seen, slots: Sequence[int], with_sieves: bool, method: MethodEdition
) -> tuple[Seen, Seen]:
    """The two runs after an exchange."""
    first, second = exchanged(one.record, other.record, slots, with_sieves=with_sieves)
    return seen_as(one.evidence, first, method), seen_as(other.evidence, second, method)


def _together(seen: Mapping[str, Seen], method: MethodEdition) -> float:
    """How well duplicates and layers of one place agree, all runs taken together."""
    return pairs_log_likelihood(seen, method) + profiles_log_likelihood(seen)


def _quick(seen: Seen, method: MethodEdition) -> _Quick | None:
    distribution = seen.distribution
    if distribution is None or not distribution.points or distribution.oven_dry_mass_g is None:
        return None
    percents = None if distribution.fractions is None else distribution.fractions.percents
    suspension = Suspension.of(seen.record, distribution, method)
    return _Quick(
        suspension,
        suspension.log_likelihood,
        distribution.oven_dry_mass_g,
        0.0 if percents is None else percents.sand,
        0.0 if percents is None else percents.clay,
        distribution.fractions is not None and distribution.fractions.sand_by == "sieve",
        seen.evidence.by_hand,
        _known_elsewhere(seen),
    )


def _known_elsewhere(seen: Seen) -> bool:
    known = seen.evidence
    return bool(known.profile) or known.reference is not None or known.duplicate_of is not None


def _quick_gain(one: _Quick, other: _Quick, slots: Sequence[int], with_sieves: bool) -> float:
    """About what an exchange gains, from corrected readings and fractions alone; rather too much than too little."""
    return _quick_of(one, other, slots, with_sieves) + _quick_of(other, one, slots, with_sieves)


def _quick_of(mine: _Quick, theirs: _Quick, slots: Sequence[int], with_sieves: bool) -> float:
    moved = set(slots)
    own, other = mine.suspension, theirs.suspension.nets_g_l
    after = replace(own, nets_g_l={**own.nets_g_l, **{k: other[k] for k in moved if k in other}})
    gain = after.log_likelihood - mine.settling
    share = theirs.mass_g / mine.mass_g
    first, last = min(own.nets_g_l), max(own.nets_g_l)
    clay = theirs.clay_pct * share if last in moved else mine.clay_pct
    sand = mine.sand_pct
    if with_sieves:
        sand = theirs.sand_pct * share
    elif first in moved and not mine.sieved:
        sand = 100.0 - (100.0 - theirs.sand_pct) * share
    if mine.hand is not None:
        before = with_silt_between(mine.sand_pct, mine.clay_pct)
        gain += log_likelihood(mine.hand, with_silt_between(sand, clay)) - log_likelihood(mine.hand, before)
    # Sieves that stay, duplicates and reference soils may speak for it: looked at in full.
    gain += MAY_SPEAK if mine.sieved and first in moved and not with_sieves else 0.0
    gain += MAY_SPEAK if mine.elsewhere else 0.0
    return gain


def _one_per_run(found: Sequence[FoundExchange]) -> list[FoundExchange]:
    """The likeliest first; a run that is in one is in no other."""
    kept: list[FoundExchange] = []
    taken: set[str] = set()
    for each in sorted(found, key=lambda one: -one.odds):
        if not taken & set(each.labels):
            kept.append(each)
            taken |= set(each.labels)
    return kept
