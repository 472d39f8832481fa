from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from batches.models.batch import Batch, BatchState
from batches.models.equipment import Cylinder
from particles.models import Portion, Sample
from particles.models.history import audited, never_changed, never_deleted
from particles.refusals import AlreadyThere, NotPossible, WrongState

if TYPE_CHECKING:
    from batches.models.reading import Reading
    from batches.models.result import Result

CLOCK_TOLERANCE = timedelta(seconds=5)
"""How far a tablet may seem ahead of the laboratory's clock before its times are refused."""


class Source(models.TextChoices):
    TABLET = "tablet"
    PAPER = "paper"


@audited
class Run(models.Model):
    """One cylinder in a batch: a portion's turn, or the blank."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="runs")
    cylinder = models.ForeignKey(Cylinder, on_delete=models.PROTECT, related_name="runs")
    position = models.PositiveSmallIntegerField(help_text="Place in the row; the blank stands at 0.")
    portion = models.OneToOneField(
        Portion, on_delete=models.PROTECT, related_name="run", null=True, blank=True
    )
    is_blank = models.BooleanField(default=False)

    class Meta:
        ordering = ["batch", "position"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "cylinder"], name="one_run_per_cylinder_and_batch"),
            models.UniqueConstraint(fields=["batch", "position"], name="one_run_per_place"),
            models.UniqueConstraint(fields=["batch"], condition=Q(is_blank=True), name="one_blank_per_batch"),
            models.CheckConstraint(
                condition=Q(is_blank=True, portion__isnull=True) | Q(is_blank=False, portion__isnull=False),
                name="a_run_is_a_portion_or_the_blank",
            ),
        ]
        triggers = [never_changed(), never_deleted()]

    def __str__(self) -> str:
        return f"cylinder {self.cylinder.serial} in {self.batch}"

    @property
    def title(self) -> str:
        """What stands in the cylinder, in a word or two."""
        if self.portion is None:
            return "blank"
        return self.portion.sample.lab_number + (" duplicate" if self.is_duplicate else "")

    @property
    def is_duplicate(self) -> bool:
        """Whether it is compared with the run of its sample's first portion, and never reported."""
        return self.portion is not None and self.portion.duplicate_of_id is not None

    @property
    def sample(self) -> Sample:
        """The sample whose portion stands in the cylinder; the blank has none."""
        assert self.portion is not None, "the blank has no sample"
        return self.portion.sample

    @property
    def started_at(self) -> datetime | None:
        start = RunStart.objects.filter(run=self).first()
        return start.started_at if start else None

    def start(
        self, *, started_at: datetime, source: str, entry: Any, by: Any, at: datetime, reason: str = ""
    ) -> RunStart:
        """The plunger left the liquid: time zero. The first start stays."""
        batch = self.batch.lock()
        if batch.state not in (BatchState.DISPERSED, BatchState.RUNNING):
            raise WrongState(f"{batch} is “{batch.state}”; cylinders start after mixing and filling.")
        if self.started_at is not None:
            raise AlreadyThere(
                f"Cylinder {self.cylinder.serial} already started at "
                f"{timezone.localtime(self.started_at):%H:%M:%S}; the first start stays."
            )
        self._require_past(started_at, at)
        if batch.dispersed_at is not None and started_at < batch.dispersed_at:
            raise NotPossible(
                f"A start at {timezone.localtime(started_at):%Y-%m-%d %H:%M} would lie before "
                "the cylinders were filled."
            )
        start = RunStart.objects.create(
            run=self, started_at=started_at, source=source, entry=entry, by=by, at=at
        )
        if batch.state == BatchState.DISPERSED:
            batch.transition(BatchState.RUNNING, by=by, at=at)
        return start

    def _require_past(self, moment: datetime, at: datetime) -> None:
        ahead = moment - at
        if ahead > CLOCK_TOLERANCE:
            raise NotPossible(
                f"That would be {ahead.total_seconds():.0f} s after the laboratory's clock "
                f"({timezone.localtime(at):%Y-%m-%d %H:%M:%S}). "
                "Check the start time, the elapsed time and the tablet's clock."
            )

    def require_readable(self, elapsed_s: float, at: datetime) -> datetime:
        """When a reading at `elapsed_s` was taken, or why it cannot be."""
        started_at = self.started_at
        if started_at is None:
            raise WrongState(f"Cylinder {self.cylinder.serial} has not been started.")
        taken_at = started_at + timedelta(seconds=elapsed_s)
        self._require_past(taken_at, at)
        return taken_at

    @property
    def current_readings(self) -> list[Reading]:
        """The reading that counts for each slot, in order of the schedule."""
        newest: dict[int, Reading] = {}
        for reading in self.readings.order_by("slot_s", "attempt"):
            newest[reading.slot_s] = reading
        return list(newest.values())

    def missing_slots(self) -> list[int]:
        """Slots of the schedule that hold neither a reading nor a reason for its absence."""
        have = set(self.readings.values_list("slot_s", flat=True))
        return [int(s) for s in self.batch.method.edition.schedule_s if int(s) not in have]

    @property
    def result(self) -> Result | None:
        """The result that belongs to the request in force; None while that one is being computed."""
        request = self.requests.order_by("-turn").first()
        return None if request is None else self.results.filter(request=request).first()


@audited
class RunStart(models.Model):
    """Time zero of one cylinder."""

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="run_start")
    started_at = models.DateTimeField()
    source = models.CharField(max_length=8, choices=Source.choices)
    entry = models.OneToOneField("batches.Entry", on_delete=models.PROTECT, related_name="run_start")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"start of {self.run}"
