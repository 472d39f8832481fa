"""The choice in force for a run: what leaves the laboratory of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from batches.computing.models import Result
from batches.repeating.rules import new_portion_asked_for
from batches.review.examination import ExaminedRun
from batches.review.models import RunDecision

WITH_FIGURES = (RunDecision.Choice.REPORT, RunDecision.Choice.QUALIFIED)
"""Choices by which the figures of a run leave the laboratory."""
HELD_BACK = (RunDecision.Choice.REPEAT, RunDecision.Choice.WITHOUT_FIGURES)
"""Choices by which the figures of a run do not leave the laboratory."""
COMPARED_ONLY = "compared only"
"""Stands in place of a choice for a duplicate or a reference soil, which are never reported."""


def decision_of(result: Result) -> str | None:
    """
    The choice in force: the newest, or that the records ask for by themselves; None while nobody has decided.

    A run that asks for a new portion by itself is repeated, and figures that nothing stands against are reported.
    """
    if not result.run.is_reported:
        return COMPARED_ONLY
    newest = newest_decision(result)
    if newest is not None:
        return str(newest.choice)
    if new_portion_asked_for(result) is not None:
        return str(RunDecision.Choice.REPEAT)
    return str(RunDecision.Choice.REPORT) if result.certifiable else None


def decided_as(runs: Iterable[ExaminedRun], choices: Collection[str]) -> list[str]:
    """Titles of those runs with a result whose choice in force is one of these, in their order."""
    return [e.run.title for e in runs if e.result is not None and decision_of(e.result) in choices]


def newest_decision(result: Result) -> RunDecision | None:
    """The newest decision of a reviewer on a result; None before the first."""
    return max(result.decisions.all(), key=lambda decision: decision.pk, default=None)
