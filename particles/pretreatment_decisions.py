"""Keeps a decision on pretreatment, once."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from particles.models import PretreatmentDecision, Sample, SampleState
from particles.refusals import AlreadyThere, WrongState


@transaction.atomic
def decide(
    sample: Sample, *, seen: int | None, by: Any, at: datetime, **decision: Any
) -> PretreatmentDecision:
    """
    Keep the decision made on the page that showed decision `seen` (None: no earlier one).

    The same decision sent twice by one person is one decision; another person's in
    between is refused, so that nobody overrules what they have not read.
    """
    sample = Sample.objects.select_for_update(no_key=True).get(pk=sample.pk)
    newest: PretreatmentDecision | None = sample.pretreatment
    if newest is not None and newest.pk != seen:
        if newest.by_id == by.pk and all(getattr(newest, name) == value for name, value in decision.items()):
            return newest
        raise AlreadyThere(
            f"{newest.by} has decided on {sample} meanwhile: {newest.in_words}. Read it, then decide again."
        )
    if sample.state != SampleState.PREPARED:
        raise WrongState(f"{sample} is “{sample.state}”; pretreatment is decided while it is “prepared”.")
    kept: PretreatmentDecision = sample.pretreatment_decisions.create(by=by, at=at, **decision)
    return kept
