"""One job for one form, however often the form is sent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from particles.models import Job

_KEY = "logged_submissions"
_KEPT = 40


@transaction.atomic
def log_once(session: Any, submission: UUID, log: Callable[[], Job]) -> tuple[str, bool]:
    """
    Number of the job of this submission, and whether it was logged now.

    A lock on the submission makes a second click wait for the first; the session row is
    read again under the lock and written in the same transaction as the job.

    Weak where the session is: another page of the same person saving its own older copy
    of the session at the same moment can drop the entry, and after logging out the entry
    is gone (the form's CSRF token is then refused as well).
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [str(submission)])
    kept: dict[str, str] = type(session)(session.session_key).get(_KEY, {})
    if str(submission) in kept:
        return kept[str(submission)], False
    job = log()
    session[_KEY] = dict([*kept.items(), (str(submission), job.number)][-_KEPT:])
    session.save()
    return job.number, True
