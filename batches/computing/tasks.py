"""The worker's doorways."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from batches.computing import rules as computing


@shared_task(name="batches.compute_run")
def compute_run(request_pk: int) -> None:
    computing.work(request_pk, at=timezone.now())


@shared_task(name="batches.ring_again")
def ring_again() -> None:
    computing.ring_again(at=timezone.now())
