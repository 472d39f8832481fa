"""A cylinder stirred again: a new time zero."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from batches.models.batch import BatchState
from batches.models.run import Run, Source, batch_open_for_readings
from particles.models.history import audited, never_changed
from particles.refusals import NotPossible, WrongState

if TYPE_CHECKING:
    from batches.models.reading import Reading


@audited
class Replunge(models.Model):
    """The readings before it are void and stay on record; those after it count from it."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="replunges")
    turn = models.PositiveSmallIntegerField(
        help_text="The first start is the first turn, this the second or later."
    )
    started_at = models.DateTimeField()
    reason = models.CharField(max_length=300)
    source = models.CharField(max_length=8, choices=Source.choices)
    entry = models.OneToOneField("batches.Entry", on_delete=models.PROTECT, related_name="replunge")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["run", "turn"]
        constraints = [
            models.UniqueConstraint(fields=["run", "turn"], name="one_replunge_per_turn"),
            models.CheckConstraint(condition=Q(turn__gte=2), name="the_first_start_comes_first"),
            models.CheckConstraint(condition=~Q(reason=""), name="stirring_again_says_why"),
        ]
        triggers = [never_changed(), batch_open_for_readings()]

    def __str__(self) -> str:
        return f"stirring {self.turn} of {self.run}"

    @classmethod
    def record(
        cls,
        run: Run,
        *,
        started_at: datetime,
        reason: str,
        voids: int,
        source: str,
        entry: Any,
        by: Any,
        at: datetime,
    ) -> Replunge:
        """A new time zero; `voids` is how many readings the person was told become void by it."""
        run.open_bench("no cylinder is stirred again", states=(BatchState.RUNNING,), by=by)
        _require_later_than_zero(run, started_at)
        if not run.missing_slots():
            raise NotPossible(
                f"Every slot of cylinder {run.cylinder.serial} is filled. Its run stands; "
                "repeat the sample with a new portion."
            )
        run.require_past(started_at, at)
        _require_told(run, run.current_readings, started_at, voids)
        last = run.replunge
        return cls.objects.create(
            run=run,
            turn=last.turn + 1 if last else 2,
            started_at=started_at,
            reason=reason,
            source=source,
            entry=entry,
            by=by,
            at=at,
        )


def _require_later_than_zero(run: Run, started_at: datetime) -> None:
    before, serial = run.started_at, run.cylinder.serial
    if before is None:
        raise WrongState(f"Cylinder {serial} has not been started: tap START.")
    if started_at <= before:
        raise NotPossible(
            f"Cylinder {serial} counts from {timezone.localtime(before):%Y-%m-%d %H:%M:%S} already; "
            "stirring again comes after that."
        )


def _require_told(run: Run, held: list[Reading], started_at: datetime, voids: int) -> None:
    """Nobody's reading becomes void behind the back of whoever stirs."""
    serial = run.cylinder.serial
    if len(held) > voids:
        raise NotPossible(
            f"{len(held)} readings of cylinder {serial} would become void, not {voids}. "
            "Somebody else has read it meanwhile: look, and say it again."
        )
    late = [reading for reading in held if reading.taken_at is not None and reading.taken_at > started_at]
    if late:
        raise NotPossible(
            f"The {late[0].slot_s} s reading of cylinder {serial} was taken after this stirring, by {late[0].by}. "
            "Which of the two times is right?"
        )
