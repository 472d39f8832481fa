"""Puts right what a client supplied; what was before stays on record."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from particles.corrections.models import CORRECTABLE, Correction
from particles.receiving.models import Sample
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible


@transaction.atomic
def correct_facts(thing: Any, *, by: Person, at: datetime, reason: str, **facts: Any) -> list[Correction]:
    """
    Put right what the client supplied; what was before stays on record.

    Refused without a reason, when nothing would change, or when the facts contradict others.
    """
    kind = type(thing)
    unknown = set(facts) - set(CORRECTABLE[kind])
    assert not unknown, f"{unknown} is nothing a client supplies"
    if not reason.strip():
        raise NotPossible("Say why it is corrected, and who said so.")
    held = kind._default_manager.select_for_update(no_key=True).get(pk=thing.pk)
    changed = {name: value for name, value in facts.items() if getattr(held, name) != value}
    if not changed:
        raise NotPossible(f"{held} says so already; nothing was changed.")
    if kind is Sample:
        _refuse_day_after_receipt(held, changed.get("sampled_on"))
    made = [
        Correction.objects.create(
            **{kind.__name__.lower(): held},
            fact=CORRECTABLE[kind][name],
            before=_in_words(getattr(held, name)),
            after=_in_words(value),
            reason=reason.strip(),
            **done(by, at),
        )
        for name, value in changed.items()
    ]
    for name, value in changed.items():
        setattr(held, name, value)
    try:
        with transaction.atomic():
            held.save(update_fields=list(changed))
    except IntegrityError as error:
        raise AlreadyThere(
            f"Another {kind._meta.verbose_name} here carries these words already; two need to differ."
        ) from error
    return made


def _refuse_day_after_receipt(sample: Any, sampled_on: date | None) -> None:
    received_on = sample.job.received_at.date()
    if sampled_on is not None and sampled_on > received_on:
        raise NotPossible(
            f"Sampled on {sampled_on:%-d %b %Y} would be after receipt on {received_on:%-d %b %Y}."
        )


def _in_words(value: Any) -> str:
    return f"{value:%-d %b %Y}" if isinstance(value, date) else str(value or "")
