"""The history of a log-in as its page tells it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from labsite.people.models import RENEWED, User
from particles.records.history import who


@dataclass(frozen=True)
class ChangeRow:
    """One change of a log-in: when, by whom, and a sentence."""

    at: datetime
    by: str
    sentence: str


def changes(person: User) -> list[ChangeRow]:
    """Every change that is on record of a log-in, the newest first."""
    events: Any = person.events  # type: ignore[attr-defined]
    kept = list(events.select_related("pgh_context").order_by("pgh_id"))
    told = [(event, _first(event)) for event in kept[:1]]
    told += [(after, "; ".join(_differences(before, after))) for before, after in pairwise(kept)]
    return [ChangeRow(event.pgh_created_at, who(event), words) for event, words in reversed(told) if words]


def _first(event: Any) -> str:
    return f"Log-in made with {_roles(event)}"


def _differences(before: Any, after: Any) -> Iterator[str]:
    if after.pgh_label == RENEWED:
        yield "New password set"
    if before.is_active != after.is_active:
        yield "Log-in opened again" if after.is_active else "Log-in closed"
    if before.roles != after.roles:
        yield f"Had {_roles(before)}, has {_roles(after)}"
    for what, fields in (("Name", ("first_name", "last_name")), ("Initials", ("initials",))):
        was, became = (" ".join(getattr(event, f) for f in fields).strip() for event in (before, after))
        if was != became:
            yield f"{what} was “{was}”, is “{became}”"


def _roles(event: Any) -> str:
    if not event.roles:
        return "no role"
    return f"the role{'s' if len(event.roles) > 1 else ''} {', '.join(event.roles)}"
