"""The doorway of the workers to the timetables: one call into the rules."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from batches.timetables import rules


@shared_task(name=rules.SEARCH)
def search_timetable(day_pk: int) -> None:
    """Seek better timetables for a bench day, unless another worker does."""
    rules.search(day_pk, at=timezone.now())
