"""Whether a reference soil speaks for the figures of a signed batch."""

from __future__ import annotations

from batches.computing.models import result_in_force
from batches.limits.keys import Kind
from batches.limits.points import REFERENCE, answers_to
from batches.planning.models import Batch, Run
from particles.distribution import Finding
from particles.distribution.findings.catalogue import finding


def reference_not_counted(batch: Batch) -> list[Finding]:
    """The finding that none of the reference soils of a batch counts; none where one does, or none was placed."""
    placed = [run for run in batch.runs.in_plan().select_related("portion") if run.is_reference]
    why = [_why_not(run) for run in placed]
    if not why or not all(why):
        return []
    return [finding("reference_soil_not_counted", why="; ".join(dict.fromkeys(why)))]


def _why_not(run: Run) -> str:
    """Why a reference soil does not count; '' where it does."""
    result = result_in_force(run)
    if result is None or not result.certifiable:
        return "its own run has no figures that can be certified"
    answers = answers_to(Kind.REFERENCE, [run.pk])
    for quantity in REFERENCE:
        said = answers.of(run.pk, quantity)["answer"]
        if said is not None and not said.counts:
            return "it lay off its assigned value, and a cause was found in its own cylinder"
    return ""
