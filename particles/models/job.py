from __future__ import annotations

from collections.abc import Set
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import connection, models, transaction
from django.utils import timezone

from particles.models.client import Client
from particles.models.edition import MethodEditionRecord
from particles.models.history import audited, never_deleted
from particles.refusals import AlreadyThere, NotPossible


class NumberSeries(models.Model):
    """The last number given out in a year; locked while the next is taken, so no number is given twice."""

    name = models.CharField(max_length=24)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["name", "year"], name="one_series_per_name_and_year")]

    def __str__(self) -> str:
        return f"{self.name} {self.year}: {self.last}"

    @classmethod
    def take(cls, name: str, year: int) -> int:
        """Next number of a series; call inside a transaction."""
        cls.objects.get_or_create(name=name, year=year)
        series = cls.objects.select_for_update(no_key=True).get(name=name, year=year)
        series.last += 1
        series.save(update_fields=["last"])
        return series.last


class JobQuerySet(models.QuerySet["Job"]):
    def visible_to(self, user: Any) -> JobQuerySet:
        return self.filter(client__in=Client.objects.visible_to(user))


@audited
class Job(models.Model):
    """What a client asked for, and the parcel it came with."""

    number = models.CharField(max_length=16, unique=True)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="jobs")
    client_reference = models.CharField(max_length=80, blank=True)
    method = models.ForeignKey(MethodEditionRecord, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    condition = models.CharField(
        max_length=200, blank=True, help_text="Of the parcel: wet, torn, leaking, mixed."
    )
    pretreatment_wish = models.CharField(max_length=200, blank=True)
    sand_by_sieve = models.BooleanField(default=False)
    wanted_by = models.DateField(null=True, blank=True)
    submission = models.UUIDField(
        unique=True, null=True, blank=True, help_text="Of the form it was logged with: one form is one job."
    )

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-received_at"]
        triggers = [never_deleted()]

    def __str__(self) -> str:
        return f"job {self.number}"

    @classmethod
    @transaction.atomic
    def log_once(cls, submission: UUID, *, by: Any, **logged: Any) -> tuple[Job, bool]:
        """The job of this submission, and whether it was logged now; a second click waits for the first."""
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [str(submission)])
        job = cls.objects.filter(submission=submission).first()
        if job is None:
            return cls.log(submission=submission, by=by, **logged), True
        if job.received_by != by:
            raise AlreadyThere(f"This form was sent before by {job.received_by}: it is {job}.")
        return job, False

    @classmethod
    @transaction.atomic
    def log(cls, *, lines: list[dict[str, Any]], by: Any, at: datetime, **asked: Any) -> Job:
        """
        Log a job with its samples in the client's order.

        Each of `lines` holds the fields of one sample as the client wrote them. Nothing
        is renumbered or corrected; two equal labels need `same_label_confirmed`.
        """
        if not lines:
            raise NotPossible("A job needs at least one sample.")
        year = timezone.localdate(at).year
        job = cls.objects.create(
            number=f"J{year % 100:02d}-{NumberSeries.take('job', year):04d}",
            received_at=at,
            received_by=by,
            **asked,
        )
        for position, line in enumerate(lines, start=1):
            job.samples.model.receive(job, line=position, by=by, at=at, **line)
        return job

    @property
    def plain_status(self) -> str:
        """Where the job stands, in a client's words."""
        return status_in_words(set(self.samples.values_list("state", flat=True)))


def status_in_words(states: Set[str]) -> str:
    """Where a job stands, from the states of its samples."""
    done = {"reported", "refused", "cancelled"}
    if states <= done:
        return "Certificate issued" if "reported" in states else "Closed"
    if "on hold" in states:
        return "Waiting for an answer"
    if states <= done | {"approved"}:
        return "Approved, certificate in preparation"
    if states & {"in batch", "calculated", "under review"}:
        return "Being measured"
    return "Received"
