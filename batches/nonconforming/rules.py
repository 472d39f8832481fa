"""
An approved batch is re-opened as nonconforming work, which lists what it touches.

Afterwards records are put right, exchanged or left out, and the batch is signed anew by somebody else; certificates
are then amended with what changed. Nothing that was signed or issued is altered.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from batches.nonconforming.models import NonconformingWork
from batches.planning.freshness import moment_in_words, require_current
from batches.planning.models import Batch, BatchState, Run
from batches.review.signature import signature_in_force, standing_results
from particles.models import SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import NotPossible, NotThisPerson, WrongState
from particles.records.sentence import is_a_sentence


@dataclass(frozen=True)
class Touched:
    """What rests on a batch, each by its number."""

    samples: tuple[str, ...]
    jobs: tuple[str, ...]
    certificates: tuple[str, ...]
    """Issued on its results, also those replaced or withdrawn since."""


def touched_by(batch: Batch) -> Touched:
    """List the samples, jobs and issued certificates that rest on a batch."""
    results = standing_results(batch)
    reported = [result for result in results if result.run.is_reported]
    numbers: Any = (
        type(results[0])._default_manager.filter(pk__in=[r.pk for r in reported]) if results else None
    )
    found = [] if numbers is None else numbers.values_list("certificates__number", flat=True)
    return Touched(
        samples=tuple(result.run.sample.lab_number for result in reported),
        jobs=tuple(sorted({result.run.sample.job.number for result in reported})),
        certificates=tuple(sorted({number for number in found if number is not None})),
    )


@transaction.atomic
def reopen(
    batch: Batch, *, found: str, found_by: str, by: Person, at: datetime, seen: str | None = None
) -> NonconformingWork:
    """
    Re-open an approved batch as nonconforming work. Whoever does it cannot sign the batch any more.

    Parameters
    ----------
    found : what was found wrong, in words.
    found_by : who found it, such as a client or an audit.
    seen : version of the page it was decided on; None without a page.
    """
    if not by.has_perm("batches.review"):
        raise NotThisPerson(f"{by} is not authorised to re-open a batch; the QA officer is.")
    batch = batch.lock()
    last = batch.nonconforming.order_by("-pk").first()
    if batch.state == BatchState.REOPENED and last is not None:
        if (last.by_id, last.found) == (by.pk, found.strip()):
            return last
        raise WrongState(f"{last.by} re-opened {batch} already, {moment_in_words(last.at)}: {last.found}")
    if batch.state != BatchState.APPROVED:
        raise WrongState(
            f"{batch} is “{batch.state}”; only an approved one is re-opened as nonconforming work."
        )
    require_current(batch, seen, by=by, nothing="Nothing was re-opened.")
    if not found.strip() or not found_by.strip():
        raise NotPossible("Say what was found wrong, and who found it.")
    if not is_a_sentence(found):
        raise NotPossible("Say in a sentence what was found wrong; every certificate it touches rests on it.")
    work = NonconformingWork.objects.create(
        batch=batch,
        approval=signature_in_force(batch),
        approved=f"{batch.approved_by}, {batch.approved_at:%Y-%m-%d %H:%M:%S %Z}",
        found=found.strip(),
        found_by=found_by.strip(),
        touches=asdict(touched_by(batch)),
        **done(by, at),
    )
    batch.transition(
        BatchState.REOPENED,
        by=by,
        at=at,
        reason=f"nonconforming work: {work.found}",
        approved_by=None,
        approved_at=None,
        approved_digest="",
    )
    for run in batch.reported_runs:
        _take_back(run, work)
    return work


def _take_back(run: Run, work: NonconformingWork) -> None:
    """The sample of a run is under review again, unless it has gone on with another portion."""
    sample = run.sample
    if sample.state in (SampleState.APPROVED, SampleState.REPORTED) and sample.portion == run.portion:
        reason = f"{work.batch} re-opened: {work.found}"
        sample.transition(SampleState.UNDER_REVIEW, by=work.by, at=work.at, reason=reason)
