"""Whether a record holds what a curve and its fractions need by its edition."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import accumulate
from math import exp, log, sqrt

from particles.distribution.answer import Finding, SizePoint
from particles.distribution.curve.fractions import LimitRead, TakenFractions
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.noise import net_sd_g_l, steady_nets_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.method.slots import slot_of
from particles.distribution.record import RunRecord
from particles.distribution.sieves.stack import sand_sieve
from particles.distribution.spoken import spoken_time

SEEN_SD = 1.64
"""Soil is seen beyond so many standard deviations of the readings it is seen in: noise alone gets there once in
20. [-]"""


def absent_slots(record: RunRecord, method: MethodEdition) -> list[Finding]:
    """slots_absent: times of the schedule that the record neither holds nor calls missed."""
    held = {slot_of(method, point.elapsed_s) for point in record.readings}
    absent = [slot_s for slot_s in method.schedule_s if slot_s not in held]
    if not absent:
        return []
    return [_absent(absent, method)]


def _absent(absent: Sequence[float], method: MethodEdition, left_out: Collection[float] = ()) -> Finding:
    """slots_absent, of times of which the record says nothing and of times that were left out on purpose."""
    number, slots = float(len(absent)), len(method.schedule_s)
    unknown = ", ".join(spoken_time(slot_s) for slot_s in absent if slot_s not in left_out)
    meant = ", ".join(spoken_time(slot_s) for slot_s in absent if slot_s in left_out)
    if not meant:
        return finding("slots_absent", number=number, slots=slots, times=unknown)
    if not unknown:
        return finding("slots_absent", variant="left_out", number=number, slots=slots, times=meant)
    return finding(
        "slots_absent", variant="also_left_out", number=number, slots=slots, times=unknown, left_out=meant
    )


def with_left_out(
    findings: Iterable[Finding], record: RunRecord, method: MethodEdition, left_out_s: Collection[float]
) -> tuple[Finding, ...]:
    """
    The findings of a run of which readings were left out on purpose, said so.

    Parameters
    ----------
    left_out_s : nominal times whose reading does not count. [s]
    """
    held = {slot_of(method, point.elapsed_s) for point in record.readings}
    absent = [slot_s for slot_s in method.schedule_s if slot_s not in held]
    return tuple(
        _absent(absent, method, left_out_s) if each.code == "slots_absent" else each for each in findings
    )


def needed_findings(
    record: RunRecord, method: MethodEdition, points: tuple[SizePoint, ...], taken: TakenFractions
) -> list[Finding]:
    """too_few_points, limit_far_from_points, outer_slot_missing, nothing_in_suspension."""
    found = [*_number(method, points), *_near_limit("clay", taken.clay, method, points)]
    if taken.sand is not None:
        found += _near_limit("sand", taken.sand, method, points)
    return found + _soil(record, method, points)


def _number(method: MethodEdition, points: Sequence[SizePoint]) -> list[Finding]:
    if len(points) >= method.least_points:
        return []
    return [finding("too_few_points", number=float(len(points)), least=method.least_points)]


def _near_limit(
    what: str, read: LimitRead, method: MethodEdition, points: Sequence[SizePoint]
) -> Iterator[Finding]:
    """Points near enough on either side, or the outermost slot where the limit lies beyond them."""
    if method.widest_gap is None or read.at is None:
        return
    limit_um, sizes_um = read.limit_um, [point.diameter_um for point in points]
    coarse_um = min((size for size in sizes_um if size >= limit_um), default=None)
    fine_um = max((size for size in sizes_um if size <= limit_um), default=None)
    if coarse_um is None or fine_um is None:
        outer_s = method.schedule_s[0] if coarse_um is None else method.schedule_s[-1]
        if outer_s not in {slot_of(method, point.elapsed_s) for point in points}:
            yield finding("outer_slot_missing", variant=what, number=outer_s, limit_um=limit_um)
    elif _as_wide_as(coarse_um, limit_um, fine_um) > method.widest_gap:
        yield finding(
            "limit_far_from_points",
            variant=what,
            number=coarse_um / fine_um,
            limit_um=limit_um,
            coarse_um=coarse_um,
            fine_um=fine_um,
        )


def _as_wide_as(coarse_um: float, limit_um: float, fine_um: float) -> float:
    """
    Gap with the limit in its middle in which reading off straight errs as much, as a ratio of diameters.

    A line between two points misses a bent curve by the product of the distances to them, in log diameter.

    >>> round(_as_wide_as(8.0, 2.0, 0.5), 6), round(_as_wide_as(54.0, 50.0, 6.0), 2)
    (16.0, 2.24)
    """
    return exp(2.0 * sqrt(log(coarse_um / limit_um) * log(limit_um / fine_um)))


def _soil(record: RunRecord, method: MethodEdition, points: tuple[SizePoint, ...]) -> list[Finding]:
    """Soil is seen where the first readings, however many, lie above their blanks by more than their noise."""
    if not points or sand_sieve(record.sieving, method.sand_sieve_openings_um) is not None:
        return []
    nets, noise = steady_nets_g_l(record, points), SEEN_SD * net_sd_g_l(record, method)
    if any(total / count > noise / sqrt(count) for count, total in enumerate(accumulate(nets), start=1)):
        return []
    return [finding("nothing_in_suspension", number=max(nets))]
