"""Rules for what is on record of the laboratory: one set of rules for the page and for the command."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from particles.distribution.possible import MOST_PORTIONS
from particles.laboratory.models import Laboratory
from particles.records.history import require_unchanged
from particles.records.refusals import NotPossible

NEEDED = ("name", "address", "contact")


@transaction.atomic
def describe_laboratory(facts: Mapping[str, Any], *, seen: int | None = None) -> Laboratory:
    """
    Keep the facts given of the laboratory; the others stay as they are.

    `seen` is the last change when the page was made (`last_change`), None for a command. Refused: a laboratory that
    would lack its name, address or contact, an impossible number of samples, a page made before the last change.
    """
    laboratory = Laboratory.objects.select_for_update(no_key=True).first() or Laboratory(pk=1)
    if all(getattr(laboratory, name) == value for name, value in facts.items()):
        return laboratory
    if laboratory._state.adding:
        if not facts.keys() & set(NEEDED):
            raise NotPossible("Enter the laboratory first: its name, address and contact.")
    else:
        require_unchanged(laboratory, seen=seen)
    for name, value in facts.items():
        setattr(laboratory, name, value.strip() if isinstance(value, str) else value)
    if not all(getattr(laboratory, name) for name in NEEDED):
        raise NotPossible("A laboratory needs a name, an address and a contact; certificates print them.")
    rate = laboratory.samples_per_duplicate
    if rate is not None and not 0 <= rate <= MOST_PORTIONS:
        raise NotPossible(f"{rate} samples for one duplicate lies outside 0 to {MOST_PORTIONS}.")
    laboratory.save()
    return laboratory
