"""Changes of state: the table of allowed moves, kept twice, in Python and in the database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

import pgtrigger
from django.db import models, transaction
from django.utils import timezone

from particles.records.act import Act
from particles.records.person import Person
from particles.records.refusals import WrongState


def allowed_moves(moves: Mapping[str, Iterable[str]]) -> pgtrigger.FSM:
    """The database refuses any change of `state` that the table of moves does not name."""
    pairs = [(str(a), str(b)) for a, targets in moves.items() for b in targets]
    return pgtrigger.FSM(name="allowed_moves", field="state", transitions=pairs)


class Move(Act):
    """One change of state: from where to where, who, when, why."""

    from_state = models.CharField(max_length=24)
    to_state = models.CharField(max_length=24)
    reason = models.TextField(blank=True)

    class Meta:
        abstract = True
        ordering = ["pk"]


def change_state(
    thing: models.Model, to: str, *, by: Person, at: datetime | None, reason: str, **also: object
) -> None:
    """
    Move `thing` from the state it was read in to `to`, with its move record, or refuse.

    The update is conditional on the state this caller saw, so two people cannot both
    make the same move. `also` are fields set in the same statement.
    """
    moves = type(thing).MOVES  # type: ignore[attr-defined]
    before = thing.state  # type: ignore[attr-defined]
    if to not in moves.get(before, ()):
        raise WrongState(f"{thing} is “{before}” and cannot become “{to}”.")
    with transaction.atomic():
        changed = type(thing)._default_manager.filter(pk=thing.pk, state=before).update(state=to, **also)
        if not changed:
            raise WrongState(
                f"Somebody else has just moved {thing}; it is no longer “{before}”. Reload the page."
            )
        thing.moves.create(from_state=before, to_state=to, by=by, at=at or timezone.now(), reason=reason)  # type: ignore[attr-defined]
    thing.refresh_from_db()
