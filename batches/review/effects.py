"""By how many points what quality control found moves which clients' figures, or that nobody can compute it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from batches.limits.keys import Kind
from batches.quality.judged_batch import Line, Off
from batches.review.examination import ExaminedRun
from particles.distribution import DistributionError, RunRecord, compute_distribution
from particles.distribution.causes.remedies import with_blank_moved
from particles.distribution.inputs.blank_series import blank_series
from particles.distribution.inputs.noise import unit_g_l
from particles.distribution.spoken import spoken_count

FRACTIONS = ("sand", "clay")
LEAST_SHOWN = 0.05
"""What rounds to nothing is not said. [percentage points]"""
NOT_COMPUTED = {
    "blank": "limits of its lot, or readings of it, are missing",
    "temperature": "each reading is corrected by its own temperature, and what is left over is not known",
    "reference soil": "its run has no figures that count, or no limits of it are in force",
    "duplicates": "there is no pair with figures to measure it by",
    "instruments": "until it is checked; a check that finds it as recorded moves nothing",
    "lot": "what a dispersant loses with age was not measured",
    "soak": "what stays together without the full soak was not measured",
}
"""Why the effect of a line cannot be computed, by what the line is about."""


def effect_of(line: Line, runs: Sequence[ExaminedRun]) -> str:
    """The effect of a line that did not pass, as sentences."""
    if line.passed or line.about not in NOT_COMPUTED:
        return ""
    found = COMPUTED.get(line.about)
    said = found(line, runs) if found is not None and line.off else ""
    if said or (line.codes and not line.rule):
        return said  # the causes that tell the codes hold the effect
    concerned = [e for e in runs if not line.runs or line.about != "instruments" or e.run.pk in line.runs]
    return f"By how many points it moves {_whose(concerned)} cannot be computed: {NOT_COMPUTED[line.about]}."


def _of_reference(line: Line, runs: Sequence[ExaminedRun]) -> str:
    known = _off_in_words(line.off)
    if not known:
        return ""
    said = f"If the batch is off as its reference soil is, {known} in {_whose(runs)}."
    missing = [name for name in FRACTIONS if name not in {each.what for each in line.off}]
    if missing:
        said += f" How far {missing[0]} is off cannot be computed: no limits of it are entered."
    return said


def _of_blank(line: Line, runs: Sequence[ExaminedRun]) -> str:
    """The figures computed with a blank at the centre of its limits, beside those there are."""
    off_g_l = line.off[0].amount
    moved = {each.run.pk: _moved_by_blank(each, off_g_l) for each in runs if each.run.is_reported}
    known = [found for found in moved.values() if found is not None]
    if not known:
        return ""
    most = [max((of[k] for of in known), key=lambda off: abs(off.amount)) for k in range(len(FRACTIONS))]
    words = _off_in_words(most)
    if not words:
        return f"It moves no figure by {LEAST_SHOWN:g} points."
    concerned = [each for each in runs if moved.get(each.run.pk) is not None]
    return (
        f"If the blank alone lies there, {words}, at most, in {_whose(concerned)}; "
        "where the cylinders lie there with it, nothing is moved."
    )


def _moved_by_blank(each: ExaminedRun, off_g_l: float) -> tuple[Off, ...] | None:
    """By how much the figures of a run are off, were the blank alone off; None without figures."""
    if each.distribution is None or each.distribution.fractions is None:
        return None
    record: RunRecord = each.record
    places = {reading.index for reading in blank_series(record)}
    right = with_blank_moved(record, places, -off_g_l / unit_g_l(record.hydrometer.scale))
    try:
        there = compute_distribution(right, each.run.batch.method.edition, draws=0).fractions
    except DistributionError:
        return None
    if there is None:
        return None
    here = each.distribution.fractions
    return (
        Off("sand", here.sand.value_pct - there.sand.value_pct),
        Off("clay", here.clay.value_pct - there.clay.value_pct),
    )


def _of_pairs(line: Line, runs: Sequence[ExaminedRun]) -> str:
    of_pair = {each.run.sample.pk for each in runs if each.run.pk in line.runs}
    concerned = [each for each in runs if each.run.sample.pk in of_pair]
    widest = max(line.off, key=lambda off: off.amount)
    return (
        f"In {_whose(concerned)}: up to {widest.amount:.1f} points of {widest.what} between its two portions."
    )


def _off_in_words(off: Iterable[Off]) -> str:
    """Each fraction that is off by more than rounding, the last of several with "and"."""
    words = [
        f"{each.what} reads {abs(each.amount):.1f} points too {'high' if each.amount > 0 else 'low'}"
        for each in off
        if abs(each.amount) >= LEAST_SHOWN
    ]
    return " and ".join(words)


def _whose(runs: Iterable[ExaminedRun]) -> str:
    """How many samples of which clients, in order of their names."""
    counted = Counter(each.run.sample.job.client.name for each in runs if each.run.is_reported)
    if not counted:
        return "no client's figures"
    return ", ".join(f"{spoken_count(many, 'sample')} of {name}" for name, many in sorted(counted.items()))


COMPUTED: dict[str, Callable[[Line, Sequence[ExaminedRun]], str]] = {
    Kind.REFERENCE: _of_reference,
    Kind.BLANK: _of_blank,
    Kind.DUPLICATES: _of_pairs,
}
"""What the effect of a line is computed by, by what the line is about."""
