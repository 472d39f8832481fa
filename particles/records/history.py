"""History and protection that every record of the laboratory shares."""

from __future__ import annotations

from typing import Any, TypeVar

import pghistory
import pgtrigger
from django.contrib.auth import get_user_model
from django.db import models

from particles.records.refusals import AlreadyThere

M = TypeVar("M", bound=type[models.Model])


def audited(model: M) -> M:
    """Class decorator: every insert, update and delete leaves an append-only event, also for raw SQL."""
    # New trackers for each model: they remember the model they were given.
    track = pghistory.track(pghistory.InsertEvent(), pghistory.UpdateEvent(), pghistory.DeleteEvent())
    tracked: M = track(model)
    return tracked


def never_changed() -> pgtrigger.Protect:
    """Rows that are only ever added."""
    return pgtrigger.Protect(name="never_changed", operation=pgtrigger.Update | pgtrigger.Delete)


def never_deleted() -> pgtrigger.Protect:
    """The database refuses to delete a row."""
    return pgtrigger.Protect(name="never_deleted", operation=pgtrigger.Delete)


def last_change(thing: models.Model) -> int:
    """The number of a record's last event, 0 for none. A page that carries it can be told that it is stale."""
    events: Any = thing.events  # type: ignore[attr-defined]
    newest: int | None = events.order_by("-pgh_id").values_list("pgh_id", flat=True).first()
    return newest or 0


def who(event: Any) -> str:
    """The person whose request made an event, or what else made it."""
    told = event.pgh_context.metadata if event.pgh_context else {}
    if "user" in told:
        person = get_user_model()._default_manager.filter(pk=told["user"]).first()
        if person is not None:
            return str(person)
    return str(told.get("command", "the program"))


def require_unchanged(thing: models.Model, *, seen: int | None) -> None:
    """Refuse what was decided on a page made before the last change; None: decided without a page."""
    if seen is None or last_change(thing) == seen:
        return
    events: Any = thing.events  # type: ignore[attr-defined]
    newest = events.select_related("pgh_context").order_by("-pgh_id").first()
    raise AlreadyThere(
        f"{who(newest)} has changed {thing} since this page was opened. Read what stands now, then decide again."
    )
