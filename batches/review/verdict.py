"""What quality control says of a batch on its review: judged by limits, with what the runs say and whom it touches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from django.utils import timezone

from batches.bench.rules import newest_stirring
from batches.computing.models import Flag
from batches.exchanging.arrangement import arrangement_of
from batches.limits.keys import Kind
from batches.planning.models import Batch, Run
from batches.quality import verdict as quality
from batches.quality.judged_batch import RANK, Line, Severity, Verdict
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT
from batches.review.effects import effect_of
from batches.review.examination import ExaminedRun


def verdict_of(batch: Batch, runs: Sequence[ExaminedRun]) -> Verdict:
    """The verdict on a batch, each line with what its examined runs say of the same and the effect on their figures."""
    blank = runs[0].blank if runs else batch.blank
    lines = [_with_runs(line, blank, runs) for line in quality.verdict_of(batch).lines]
    return Verdict(tuple(replace(line, effect=effect_of(line, runs)) for line in lines))


def _with_runs(line: Line, blank: Run, runs: Sequence[ExaminedRun]) -> Line:
    if line.about == Kind.DUPLICATES:
        return replace(line, codes=(DUPLICATE_OUTSIDE_LIMIT,))
    return _with_blank(line, blank, runs) if line.about == Kind.BLANK else line


def day_of(blank: Run) -> date:
    """The day on which the blank was started, or was to be."""
    start = newest_stirring(blank) or getattr(blank, "run_start", None)
    return timezone.localdate(blank.batch.planned_at if start is None else start.started_at)


def _with_blank(line: Line, blank: Run, runs: Sequence[ExaminedRun]) -> Line:
    """The line of the blank with how its readings run and what findings of the runs say of it."""
    arrangement = runs[0].arrangement if runs else arrangement_of(blank.batch)
    missing = arrangement.missing(blank)
    values = [float(r.reading) for r in arrangement.readings(blank) if r.reading is not None]
    codes = {
        flag.code
        for each in runs
        if each.result is not None
        for flag in each.result.flags.all()
        if flag.code.startswith("blank_") and flag.severity != Flag.Severity.NOTE
    }
    said = "The blank has no reading."
    if values:
        low, high = min(values), max(values)
        said = (
            f"{line.sentence} {len(values)} readings from {low:g} to {high:g}, {high - low:.1f} between them."
        )
    if values and missing:
        said += f" {len(missing)} of the schedule not read."
    found = Severity.WARN if codes or missing or not values else Severity.PASSED
    severity = max(line.severity, found, key=RANK.__getitem__)
    return replace(line, severity=severity, sentence=said, codes=tuple(sorted(codes)))
