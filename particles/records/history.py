"""History and protection that every record of the laboratory shares."""

from __future__ import annotations

from typing import TypeVar

import pghistory
import pgtrigger
from django.db import models

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
