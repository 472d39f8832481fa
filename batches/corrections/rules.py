"""Rules for superseding what was recorded of a batch, and for when a batch forbids a correction before the bench."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from batches.balance.rules import lock_open
from batches.corrections.models import (
    FILLED_AND_OPEN,
    DensityCorrection,
    FillingCorrection,
    density_in_words,
    filling_in_words,
)
from batches.planning.four_eyes import has_reviewed
from batches.planning.models import CLOSED, Batch, Run
from particles.models import Portion, Sample
from particles.portions.density import require_believed
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import NotPossible, NotThisPerson, WrongState
from particles.records.superseding import require_due


def run_under_way(sample: Sample) -> Run | None:
    """The run of the sample's newest portion; None when there is none or its batch is closed."""
    portion = sample.portion
    if portion is None:
        return None
    return (
        Run.objects.filter(portion=portion).exclude(batch__state__in=CLOSED).select_related("batch").first()
    )


def require_open_batch(sample: Sample, *, by: Person) -> None:
    """
    Lock the batch the sample stands in until the transaction ends; refuse who reviewed flags in it.

    The batch is locked before the sample, as everywhere. Whether it may still be corrected is the sample's to say.
    """
    run = run_under_way(sample)
    if run is None:
        return
    require_no_reviewer(run.batch.lock(), by=by)


def require_no_reviewer(batch: Batch, *, by: Person) -> None:
    """Refuse a correction by somebody who stands on the review's side of the batch."""
    if has_reviewed(by, batch):
        raise NotThisPerson(
            f"{by} has reviewed flags or figures of {batch} and corrects nothing in it any more."
        )


@transaction.atomic
def correct_density(
    portion: Portion,
    *,
    seen: int | None,
    reason: str,
    entry: Any,
    by: Person,
    at: datetime,
    **density: Any,
) -> DensityCorrection:
    """
    Supersede the density in force of a first portion, unless its batch is under review or closed.

    Parameters
    ----------
    density : fields of a `ParticleDensity`.
    """
    require_believed(density)
    if portion.duplicate_of_id is not None:
        raise NotPossible(f"The density is that of the bag: correct it on the page of {portion.sample}.")
    lock_open(portion, nothing="its particle density is not corrected")
    newest = portion.density_corrections.order_by("pk").last()
    require_due(newest, seen=seen, reason=reason, what=f"the particle density of {portion}")
    made = DensityCorrection(
        portion=portion,
        supersedes=newest,
        **density,
        reason=reason,
        entry=entry,
        **done(by, at),
    )
    return made.keep(earlier=density_in_words(newest or portion))


@transaction.atomic
def correct_filling(
    batch: Batch,
    *,
    mixing_minutes: Decimal,
    soak_note: str,
    seen: int | None,
    reason: str,
    entry: Any,
    by: Person,
    at: datetime,
) -> FillingCorrection:
    """Supersede what was recorded at the filling, until the batch is handed over."""
    batch = batch.lock()
    if batch.state not in FILLED_AND_OPEN:
        raise WrongState(
            f"{batch} is “{batch.state}”; its filling is not corrected now.{batch.instead_of_changing}"
        )
    newest = batch.filling_corrections.order_by("pk").last()
    require_due(newest, seen=seen, reason=reason, what=f"the filling of {batch}")
    batch.require_soaked_or_said(batch.soaked_h, soak_note)
    made = FillingCorrection(
        batch=batch,
        supersedes=newest,
        mixing_minutes=mixing_minutes,
        soak_note=soak_note,
        reason=reason,
        entry=entry,
        **done(by, at),
    )
    return made.keep(earlier=filling_in_words(newest or batch))
