"""Findings that need the neighbours: runs of one batch in the order of their cylinders. Pure functions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from statistics import fmean, median

from particles.distribution.answer import Finding, SizeDistribution
from particles.distribution.findings.catalogue import finding
from particles.distribution.inputs.blank_series import MEDIAN_VARIANCE
from particles.distribution.inputs.noise import blank_line, net_g_l, reading_sd_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.neighbours.late_rise import late_rises_alone
from particles.distribution.record import Correction, RunRecord

LEAST_RUNS = 3
"""Fewer runs do not tell which of them differs. *Common practice*."""
COPIED_LEAST = 4
"""Fewer equal readings happen by chance. *Common practice*."""
COPIED_PART_LEAST = 7
"""The same for a part of the column: layers of one place agree in five slots about once in a hundred batches. *Common
practice*."""
COPIED_SPAN_G_L = 3.0
"""A curve that falls by less may be that of clear water twice. *Common practice*. [g/L]"""
LEVEL_SD = 3.9
"""A blank's level counts as another beyond so many of its standard deviations: keeps false alarms rare. [-]"""


@dataclass(frozen=True, slots=True)
class BatchRun:
    """One cylinder: its record and what was computed from it without an interpolated blank."""

    record: RunRecord
    distribution: SizeDistribution


@dataclass(frozen=True, slots=True)
class BatchFinding:
    """A finding and the labels of the runs it is about."""

    finding: Finding
    labels: tuple[str, ...]


def batch_findings(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """
    Find what only the neighbours of a run can show: copied readings, a blank, temperature or slot apart, a late rise.

    Parameters
    ----------
    runs : (n,) in order of the cylinders, of one method edition, readings in the slots of its schedule.

    Returns
    -------
    Findings; nothing is corrected. `reading_index` is the slot in every run concerned. Exchanges between runs are
    found by `causes.exchanges`.
    """
    found: list[BatchFinding] = []
    for one, other in pairwise(runs):
        found += _copied(one, other)
    found += _blank_levels(runs, method) + _temperatures(runs, method) + _common_rises(runs, method)
    alone = late_rises_alone([(run.record, run.distribution) for run in runs])
    return found + [BatchFinding(rise, (label,)) for rise, label in alone]


def _copied(one: BatchRun, other: BatchRun) -> list[BatchFinding]:
    """Equal readings in a row of slots of two neighbours, over a fall that clear water does not have."""
    same = _longest_equal(one.record, other.record)
    slots = set(same)
    nets = [net_g_l(one.record, p) for p in one.distribution.points if p.reading_index in slots]
    part = len(same) < len(one.record.readings)
    if (
        len(same) < (COPIED_PART_LEAST if part else COPIED_LEAST)
        or not nets
        or max(nets) - min(nets) < COPIED_SPAN_G_L
    ):
        return []
    labels = (one.record.label, other.record.label)
    copied = finding(
        "readings_copied",
        number=float(len(same)),
        reading_index=same[0],
        elapsed_s=one.record.readings[same[0]].elapsed_s,
        label=labels[0],
        other=labels[1],
    )
    return [BatchFinding(copied, labels)]


def _longest_equal(one: RunRecord, other: RunRecord) -> range:
    """The longest row of slots at which two records hold equal readings."""
    best, start = range(0), 0
    both = list(zip(one.readings, other.readings, strict=False))
    for k, (mine, theirs) in enumerate(both):
        if mine.reading is None or mine.reading != theirs.reading:
            start = k + 1
        elif k + 1 - start > len(best):
            best = range(start, k + 1)
    return best


def _blank_levels(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """Runs that share a blank must show one level."""
    lines = [(run.record, blank_line(run.record)) for run in runs]
    known = [(record, line) for record, line in lines if line is not None]
    if len(known) < LEAST_RUNS:
        return []
    level = median(line.level_g_l for _, line in known)
    found: list[BatchFinding] = []
    for record, line in known:
        difference = line.level_g_l - level
        noise = reading_sd_g_l(record, method) * sqrt(MEDIAN_VARIANCE / len(line.difference_g_l))
        if abs(difference) > max(method.limits.blank_drift_g_l, LEVEL_SD * noise):
            off = finding("blank_apart_from_batch", number=difference, label=record.label)
            found.append(BatchFinding(off, (record.label,)))
    return found


def _temperatures(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """One cylinder far from its neighbours' temperature at the same slot: the worst slot of each run."""
    limit = method.limits.blank_apart_warn_c
    slots = min((len(run.record.readings) for run in runs), default=0)
    worst: dict[int, tuple[float, int]] = {}
    for slot in range(slots):
        temperatures_c = [run.record.readings[slot].temperature_c for run in runs]
        known = [value for value in temperatures_c if value is not None]
        if len(known) < LEAST_RUNS:
            continue
        middle = median(known)
        for place, value in enumerate(temperatures_c):
            difference = 0.0 if value is None else value - middle
            if abs(difference) > max(limit, abs(worst.get(place, (0.0, 0))[0])):
                worst[place] = (difference, slot)
    found: list[BatchFinding] = []
    for place, (difference, slot) in worst.items():
        record = runs[place].record
        off = finding(
            "temperature_apart_from_batch",
            number=difference,
            reading_index=slot,
            label=record.label,
            elapsed_s=record.readings[slot].elapsed_s,
        )
        found.append(BatchFinding(off, (record.label,)))
    return found


def _common_rises(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """A slot at which the runs rise on average: their common blank or hydrometer, not the soils."""
    nets = [
        {point.reading_index: net_g_l(run.record, point) for point in run.distribution.points} for run in runs
    ]
    found: list[BatchFinding] = []
    slots = max((len(run.record.readings) for run in runs), default=0)
    for slot in range(1, slots):
        rises = [net[slot] - net[slot - 1] for net in nets if slot in net and slot - 1 in net]
        if len(rises) < LEAST_RUNS:
            continue
        rise = fmean(rises)
        # All runs share the blank of a slot, so averaging takes away the noise of their own readings only.
        record = runs[0].record
        blank = record.correction is Correction.MEASURED_BLANK
        noise = reading_sd_g_l(record, method) * sqrt(2.0 * (blank + 1.0 / len(rises)))
        if rise > method.limits.noise_stop_sd * noise:
            common = finding(
                "slot_rises_in_batch", number=rise, reading_index=slot, runs=len(rises), slot=slot + 1
            )
            found.append(BatchFinding(common, tuple(run.record.label for run in runs)))
    return found
