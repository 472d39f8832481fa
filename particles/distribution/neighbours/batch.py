"""Findings that need the neighbours: runs of one batch in the order of their cylinders. Pure functions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from statistics import fmean, median

from particles.distribution.inputs.noise import blank_line, net_g_l, reading_sd_g_l
from particles.distribution.method.edition import MethodEdition
from particles.distribution.neighbours.exchange import Exchange, best_exchange
from particles.distribution.record import Correction, Finding, RunRecord, Severity, SizeDistribution

LEAST_RUNS = 3
COPIED_LEAST = 4
COPIED_SPAN_G_L = 3.0
LEVEL_SD = 3.9


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
    readings_exchanged, readings_copied, blank_apart_from_batch, temperature_apart_from_batch, slot_rises_in_batch.

    Parameters
    ----------
    runs : (n,) in order of the cylinders, of one method edition, readings in the slots of its schedule.

    Returns
    -------
    Findings; nothing is exchanged or corrected. `reading_index` is the slot in every run concerned.
    """
    found: list[BatchFinding] = []
    for one, other in pairwise(runs):
        found += _copied(one, other) or _exchanged(one, other, method)
    return found + _blank_levels(runs, method) + _temperatures(runs, method) + _common_rises(runs, method)


def _exchanged(one: BatchRun, other: BatchRun, method: MethodEdition) -> list[BatchFinding]:
    exchange = best_exchange(one.record, one.distribution, other.record, other.distribution, method)
    return [] if exchange is None else [_exchange_finding(one, other, exchange)]


def _exchange_finding(one: BatchRun, other: BatchRun, exchange: Exchange) -> BatchFinding:
    labels = (one.record.label, other.record.label)
    at_s = one.record.readings[exchange.slot].elapsed_s
    which = "the reading at" if exchange.only_this else "the readings from"
    sentence = (
        f"Exchanging {which} {at_s:g} s between {labels[0]} and {labels[1]} would take rises and excesses of "
        f"{exchange.gain_g_l:.1f} g/L out of the two curves."
    )
    step = "Compare with sheet and photo; exchanging is for the quality officer, with a reason, both kept."
    number = exchange.gain_g_l
    finding = Finding("readings_exchanged", Severity.WARN, sentence, step, number, "g/L", exchange.slot)
    return BatchFinding(finding, labels)


def _copied(one: BatchRun, other: BatchRun) -> list[BatchFinding]:
    mine = [point.reading for point in one.record.readings]
    values = [value for value in mine if value is not None]
    theirs = [point.reading for point in other.record.readings]
    if mine != theirs or len(values) < COPIED_LEAST:
        return []
    nets = [net_g_l(one.record, point) for point in one.distribution.points]
    if not nets or max(nets) - min(nets) < COPIED_SPAN_G_L:
        return []
    labels = (one.record.label, other.record.label)
    sentence = f"All {len(values)} readings of {labels[0]} and {labels[1]} are the same."
    step = "Check that both cylinders were read; one column may have been copied."
    finding = Finding("readings_copied", Severity.WARN, sentence, step, float(len(values)), "")
    return [BatchFinding(finding, labels)]


def _blank_levels(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """Runs that share a blank must show one level."""
    lines = [(run.record, blank_line(run.record)) for run in runs]
    known = [(record, line) for record, line in lines if line is not None]
    if len(known) < LEAST_RUNS:
        return []
    level = median(line.level_g_l for _, line in known)
    found: list[BatchFinding] = []
    for record, line in known:
        apart = line.level_g_l - level
        noise = reading_sd_g_l(record, method) * sqrt(1.57 / len(line.apart_g_l))
        if abs(apart) > max(method.limits.blank_drift_g_l, LEVEL_SD * noise):
            sentence = f"The blank of {record.label} lies {apart:+.2f} g/L off that of the batch."
            step = "Check that one blank cylinder of one dispersant lot served all runs."
            finding = Finding("blank_apart_from_batch", Severity.WARN, sentence, step, apart, "g/L")
            found.append(BatchFinding(finding, (record.label,)))
    return found


def _temperatures(runs: Sequence[BatchRun], method: MethodEdition) -> list[BatchFinding]:
    """One cylinder far from its neighbours' temperature at the same slot: the worst slot of each run."""
    limit = method.limits.blank_apart_warn_c
    slots = min((len(run.record.readings) for run in runs), default=0)
    worst: dict[int, tuple[float, int]] = {}
    for slot in range(slots):
        warm = [run.record.readings[slot].temperature_c for run in runs]
        known = [value for value in warm if value is not None]
        if len(known) < LEAST_RUNS:
            continue
        middle = median(known)
        for place, value in enumerate(warm):
            apart = 0.0 if value is None else value - middle
            if abs(apart) > max(limit, abs(worst.get(place, (0.0, 0))[0])):
                worst[place] = (apart, slot)
    found: list[BatchFinding] = []
    for place, (apart, slot) in worst.items():
        label = runs[place].record.label
        at_s = runs[place].record.readings[slot].elapsed_s
        sentence = f"{label} is {apart:+.1f} °C off its neighbours at {at_s:g} s."
        step = "Check the thermometer reading; a cylinder in sun or draught settles by its own rules."
        finding = Finding("temperature_apart_from_batch", Severity.WARN, sentence, step, apart, "°C", slot)
        found.append(BatchFinding(finding, (label,)))
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
            sentence = f"{len(rises)} runs rise by {rise:.1f} g/L on average into slot {slot + 1}."
            step = "Look at what they share there: the blank, the hydrometer, the thermometer."
            finding = Finding("slot_rises_in_batch", Severity.WARN, sentence, step, rise, "g/L", slot)
            found.append(BatchFinding(finding, tuple(run.record.label for run in runs)))
    return found
