from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Self

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from batches.models.batch import Batch, BatchState
from batches.models.equipment import Cylinder
from particles.models import Portion, Sample
from particles.models.history import audited, never_changed, never_deleted
from particles.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState

if TYPE_CHECKING:
    from batches.models.reading import Reading
    from batches.models.replunge import Replunge
    from batches.models.result import Result
    from batches.models.seen import RunVoid

CLOCK_TOLERANCE = timedelta(seconds=5)
"""How far a tablet may seem ahead of the laboratory's clock before its times are refused."""
SAME_ZERO = timedelta(seconds=2)
"""Farther apart, two tablets count from different moments."""

_CLOSED_BATCH = """
    IF EXISTS (
        SELECT 1 FROM batches_run u JOIN batches_batch b ON b.id = u.batch_id
         WHERE {joined} AND b.state IN ('submitted for review', 'approved', 'rejected', 'aborted')
    ) THEN
        RAISE EXCEPTION 'the batch is closed for {what}' USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
"""


def batch_open_for(what: str, *, joined: str) -> pgtrigger.Trigger:
    """The database takes no row that belongs to a run whose batch is handed over or closed."""
    return pgtrigger.Trigger(
        name=f"batch_open_for_{what}",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        func=_CLOSED_BATCH.format(joined=joined, what=what),
    )


def batch_open_for_readings() -> pgtrigger.Trigger:
    """For rows about a run."""
    return batch_open_for("readings", joined="u.id = NEW.run_id")


class Source(models.TextChoices):
    TABLET = "tablet"
    PAPER = "paper"


class RunQuerySet(models.QuerySet["Run"]):
    def in_plan(self) -> Self:
        """Without the duplicates that could not be weighed and were taken out."""
        return self.filter(taken_out__isnull=True)

    def not_void(self) -> Self:
        """Without those that were made void, unless that was lifted."""
        from batches.models.seen import RunVoid

        return self.exclude(pk__in=RunVoid.objects.filter(lifted__isnull=True).values("run"))


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

    objects = RunQuerySet.as_manager()

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
    def first_started_at(self) -> datetime | None:
        start = RunStart.objects.filter(run=self).first()
        return start.started_at if start else None

    @property
    def replunge(self) -> Replunge | None:
        """The newest time zero, when the cylinder was stirred again; None while the first start counts."""
        return max(self.replunges.all(), key=lambda each: each.turn, default=None)

    @property
    def started_at(self) -> datetime | None:
        """Time zero of the readings that count."""
        again = self.replunge
        return self.first_started_at if again is None else again.started_at

    def open_bench(self, what: str, *, states: tuple[str, ...], by: Any) -> Batch:
        """The batch, locked, if `by` may add to this run now; `what` is what does not happen otherwise."""
        from batches.models.result import FlagReview
        from batches.models.taken_out import TakenOut

        batch = self.batch.lock()
        if batch.state not in states:
            raise WrongState(f"{batch} is “{batch.state}”; {what} now.")
        if FlagReview.objects.filter(flag__result__run__batch=batch, by=by).exists():
            raise NotThisPerson(f"{by} has reviewed flags of {batch} and reads nothing in it any more.")
        out = TakenOut.objects.filter(run=self).first()
        if out is not None:
            raise WrongState(f"{self} was taken out of the plan by {out.by}: {out.reason}")
        void = self.voids.filter(lifted__isnull=True).first()
        if void is not None:
            raise WrongState(
                f"Cylinder {self.cylinder.serial} is void: {void.in_words}. Nothing is added to it."
            )
        return batch

    def start(
        self, *, started_at: datetime, source: str, entry: Any, by: Any, at: datetime, reason: str = ""
    ) -> RunStart:
        """The plunger left the liquid: time zero. The first start stays."""
        batch = self.batch.lock()
        if batch.state not in (BatchState.DISPERSED, BatchState.RUNNING):
            raise WrongState(f"{batch} is “{batch.state}”; cylinders start after mixing and filling.")
        self.open_bench("cylinders do not start", states=(batch.state,), by=by)
        if self.first_started_at is not None:
            raise AlreadyThere(
                f"Cylinder {self.cylinder.serial} already started at "
                f"{timezone.localtime(self.first_started_at):%H:%M:%S}; the first start stays. "
                "If it was stirred again, say so: that makes a new zero."
            )
        self.require_past(started_at, at)
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

    def require_past(self, moment: datetime, at: datetime) -> None:
        ahead = moment - at
        if ahead > CLOCK_TOLERANCE:
            raise NotPossible(
                f"That would be {ahead.total_seconds():.0f} s after the laboratory's clock "
                f"({timezone.localtime(at):%Y-%m-%d %H:%M:%S}). "
                "Check the start time, the elapsed time and the tablet's clock."
            )

    def require_readable(
        self, elapsed_s: float, at: datetime, counted_from: datetime | None = None
    ) -> datetime:
        """
        When a reading at `elapsed_s` was taken, or why it cannot be.

        `counted_from` is the zero of whoever counted: a tablet may not know yet of a second stirring.
        """
        started_at, serial = self.started_at, self.cylinder.serial
        if started_at is None:
            raise WrongState(f"Cylinder {serial} has not been started.")
        if counted_from is not None and abs(started_at - counted_from) > SAME_ZERO:
            raise NotPossible(
                f"This time counts from {timezone.localtime(counted_from):%H:%M:%S}, but cylinder {serial} "
                f"counts from {timezone.localtime(started_at):%H:%M:%S}. "
                "Look whether it was stirred again, and take the reading anew."
            )
        taken_at = started_at + timedelta(seconds=elapsed_s)
        self.require_past(taken_at, at)
        return taken_at

    @property
    def current_readings(self) -> list[Reading]:
        """The reading that counts for each slot, in order of the schedule."""
        again = self.replunge
        since = [r for r in self.readings.all() if r.replunge_id == (again.pk if again else None)]
        return list({r.slot_s: r for r in sorted(since, key=lambda r: (r.slot_s, r.attempt))}.values())

    @property
    def void(self) -> RunVoid | None:
        """The act that makes the run void, unless it was lifted."""
        return next((each for each in self.voids.all() if not hasattr(each, "lifted")), None)

    @property
    def is_void(self) -> bool:
        return self.void is not None

    def missing_slots(self) -> list[int]:
        """Slots that hold neither a reading nor a reason for its absence; a void run is read no further."""
        if self.is_void:
            return []
        have = {reading.slot_s for reading in self.current_readings}
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
