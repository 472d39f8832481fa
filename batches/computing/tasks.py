"""The doorways of the workers: each task makes one call into the rules."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from batches.computing import rules


@shared_task(name=rules.COMPUTE_RUN)
def compute_run(request_pk: int) -> None:
    """Compute one request, unless another worker has it."""
    rules.work(request_pk, at=timezone.now())


@shared_task(name="batches.notify_again")
def notify_again() -> None:
    """Notify the workers of every request that has waited too long."""
    rules.notify_again(at=timezone.now())
