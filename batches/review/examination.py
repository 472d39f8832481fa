"""Every sample's run of a batch as a reviewer needs it, from one gathering."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from batches.computing.models import Result
from batches.computing.record import GatheredRun, gather_batch
from batches.exchanging.arrangement import Arrangement
from batches.planning.freshness import DoneInBatch
from batches.planning.models import Batch, Run
from batches.review.acts_done import acts_of, name_people
from batches.review.models import RunDecision
from batches.review.second import SecondCalculation, second_calculation
from particles.distribution import (
    BatchFinding,
    BatchRun,
    DistributionError,
    MethodEdition,
    RunRecord,
    SizeDistribution,
    batch_findings,
    compute_distribution,
    record_digest,
)
from particles.distribution.causes.exchanges import exchanges_by_readings


@dataclass(frozen=True)
class ExaminedRun:
    """One sample's run with its record, its result and the second calculation."""

    run: Run
    blank: Run
    arrangement: Arrangement
    record: RunRecord
    result: Result | None
    """The one that belongs to what is recorded now; None while it is being computed."""
    second: SecondCalculation | None
    """None when there are no stored figures to compare."""
    inputs_digest: str = ""
    """Digest of what is recorded now; '' while slots are missing."""
    distribution: SizeDistribution | None = None
    """Figures of the result in force; None without."""

    @property
    def waits_for_worker(self) -> bool:
        """Whether everything is recorded, and only the worker has not computed it yet."""
        return self.result is None and bool(self.inputs_digest)

    @cached_property
    def decisions(self) -> list[RunDecision]:
        """Decisions on the result in force, the newest last."""
        return [] if self.result is None else sorted(self.result.decisions.all(), key=lambda d: d.pk)


def examine(batch: Batch, done: DoneInBatch | None = None) -> list[ExaminedRun]:
    """
    Examine every sample's run of a batch, in the order of the cylinders.

    Parameters
    ----------
    done : what was counted in the batch before; then nothing is asked for that is not there.
    """
    edition, gathered = batch.method.edition, gather_batch(batch, done)
    if gathered:
        runs = [gathered[0].blank, *(each.run for each in gathered)]
        name_people(acts_of(runs), None if done is None else done.people)
    return [_examined(each, edition) for each in gathered]


def _examined(gathered: GatheredRun, edition: MethodEdition) -> ExaminedRun:
    result, digest = None, ""
    if gathered.complete:
        digest = record_digest(gathered.record, edition)
        result = next((r for r in gathered.run.results.all() if r.inputs_digest == digest), None)
    distribution = None if result is None else result.distribution
    second = None if distribution is None else second_calculation(gathered.record, edition, distribution)
    return ExaminedRun(
        gathered.run,
        gathered.blank,
        gathered.arrangement,
        gathered.record,
        result,
        second,
        digest,
        distribution,
    )


@dataclass(frozen=True)
class AcrossBatch:
    """Findings that only neighbouring runs show, from the readings as they are now; nothing of it is stored."""

    findings: tuple[tuple[BatchFinding, tuple[Run, ...]], ...]
    """Each with the runs it is about."""
    left_out: tuple[Run, ...]
    """Runs from which nothing can be computed."""


def across_batch(records: list[tuple[Run, RunRecord]], method: MethodEdition) -> AcrossBatch:
    """Check runs against their neighbours, in the order of their cylinders."""
    measured_only = replace(method, interpolate_missing_blank=False)
    found: list[BatchRun] = []
    left_out: list[Run] = []
    for run, record in records:
        if record.void:
            continue  # says nothing about its neighbours; that it is void stands beside it
        try:
            found.append(BatchRun(record, compute_distribution(record, measured_only, draws=0)))
        except DistributionError:
            left_out.append(run)  # its own stop flag says why
    by_label = {record.label: run for run, record in records}
    findings = tuple(
        (finding, tuple(by_label[label] for label in finding.labels))
        for finding in (*batch_findings(found, method), *exchanges_by_readings(found, method))
    )
    return AcrossBatch(findings, tuple(left_out))
