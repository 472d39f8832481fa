"""Rules for the secret address of a person's calendar: made and shown once, ended, and whose it is."""

from __future__ import annotations

import secrets
from datetime import datetime
from hashlib import sha256
from typing import Any

from django.db import IntegrityError, transaction

from batches.timetables.models import CalendarAddress
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, WrongState

SECRET_BYTES = 32


def _digest(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


def make_address(*, by: Person, at: datetime) -> str:
    """Make the address of a person's calendar and return its secret part, which nobody can look up again."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    try:
        with transaction.atomic():
            CalendarAddress.objects.create(digest=_digest(secret), **done(by, at))
    except IntegrityError as error:
        raise AlreadyThere(
            "Your calendar has an address already. End it first, then make another."
        ) from error
    return secret


def open_address(person: Any) -> CalendarAddress | None:
    """The address of a person's calendar that is not ended."""
    return CalendarAddress.objects.filter(by=person.pk, ended_at__isnull=True).first()


def end_address(*, by: Person, at: datetime) -> None:
    """End the address of a person's own calendar; whoever asks at it finds nothing from now on."""
    if not CalendarAddress.objects.filter(by_id=by.pk, ended_at__isnull=True).update(ended_at=at):
        raise WrongState("Your calendar has no address that could be ended.")


def owner_of(secret: str) -> Any | None:
    """Whose calendar a secret opens; None when it is unknown or ended, or its owner plans no bench day any more."""
    found = CalendarAddress.objects.select_related("by").filter(digest=_digest(secret), ended_at__isnull=True)
    address = found.first()
    if address is None or not address.by.is_active or not address.by.has_perm("batches.plan_day"):
        return None
    return address.by
