"""Keeps a decision on pretreatment, once; a correction supersedes the earlier one."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from particles.preparation.models import PretreatmentDecision
from particles.receiving.models import Sample, SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


@transaction.atomic
def decide(
    sample: Sample,
    *,
    seen: int | None,
    by: Person,
    at: datetime,
    why_superseded: str = "",
    entry_name: UUID | None = None,
    **decision: Any,
) -> PretreatmentDecision:
    """
    Keep the decision made on the page that showed decision `seen` (None: no earlier one).

    The same decision sent twice by one person is one decision; another person's in
    between is refused, so that nobody overrules what they have not read.
    """
    sample = sample.lock()
    newest: PretreatmentDecision | None = sample.pretreatment
    is_the_same = newest is not None and all(getattr(newest, k) == value for k, value in decision.items())
    if newest is not None and newest.pk != seen:
        if newest.by_id == by.pk and is_the_same:
            return newest
        raise AlreadyThere(
            f"{newest.by} has decided on {sample} meanwhile: {newest.in_words}. Read it, then decide again."
        )
    _require_undecided_or_open(sample, newest)
    earlier = superseded_by_the_next(sample)
    if earlier is not None and is_the_same:
        raise NotPossible(
            f"This is the decision on record already: {earlier.in_words}. Nothing was corrected."
        )
    if earlier is not None and not why_superseded.strip():
        raise NotPossible("Say what was wrong with the earlier decision; both stay on record.")
    kept: PretreatmentDecision = sample.pretreatment_decisions.create(
        supersedes=earlier,
        why_superseded=None if earlier is None else why_superseded,
        entry_name=entry_name,
        **done(by, at),
        **decision,
    )
    return kept


def _require_undecided_or_open(sample: Sample, newest: PretreatmentDecision | None) -> None:
    if newest is not None:
        sample.require_open_for_correction()
    elif sample.state != SampleState.PREPARED:
        raise WrongState(f"{sample} is “{sample.state}”; pretreatment is decided while it is “prepared”.")


def superseded_by_the_next(sample: Sample) -> PretreatmentDecision | None:
    """
    The decision whose place another one would take now.

    None where there is none yet, and where the sample came back for a new portion: what was
    done to the earlier portion stays true of it, and the next decision is for the new one.
    """
    newest: PretreatmentDecision | None = sample.pretreatment
    if newest is None or sample.state != SampleState.PREPARED:
        return newest
    rests_on_it = any(portion.decision == newest for portion in sample.portions.all())
    return None if rests_on_it else newest
