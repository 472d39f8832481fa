"""What was seen at a cylinder, and the act that makes a run void."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.models.batch import OPEN_FOR_READINGS, BatchState
from batches.models.run import Run, batch_open_for_readings
from particles.distribution import Sight
from particles.models.history import audited, never_changed
from particles.refusals import NotPossible

NOTED_IN = (BatchState.DISPERSED, *OPEN_FOR_READINGS)


@audited
class Observation(models.Model):
    """
    One thing somebody saw at a cylinder.

    Tapped by mistake it is taken back by a row of its own, which names it and says why.
    """

    SIGHTS = [(s.value, s.value) for s in Sight]

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="observations")
    what = models.CharField(max_length=48, choices=SIGHTS)
    slot_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="Nominal time of the reading it is about. [s]"
    )
    note = models.CharField(max_length=300, blank=True)
    seen_at = models.DateTimeField()
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="taken_back_by", null=True, blank=True
    )
    entry = models.OneToOneField("batches.Entry", on_delete=models.PROTECT, related_name="observation")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what=Sight.DOUBTFUL.value) | Q(slot_s__isnull=False),
                name="a_doubtful_reading_is_named",
            ),
            models.CheckConstraint(
                condition=Q(takes_back__isnull=True) | ~Q(note=""), name="taking_back_says_why"
            ),
        ]
        triggers = [never_changed(), batch_open_for_readings()]

    def __str__(self) -> str:
        return f"{self.what}, {self.run}"

    @classmethod
    def record(
        cls,
        run: Run,
        *,
        what: str,
        slot_s: int | None,
        note: str,
        seen_at: datetime,
        takes_back: Observation | None,
        entry: Any,
        by: Any,
        at: datetime,
    ) -> Observation:
        """Keep what was seen, or take an earlier observation back."""
        batch = run.open_bench("nothing is noted", states=NOTED_IN, by=by)
        run.require_past(seen_at, at)
        if slot_s is not None and slot_s not in {int(s) for s in batch.method.edition.schedule_s}:
            raise NotPossible(f"{slot_s} s is not a time of “{batch.method}”.")
        if what == Sight.DOUBTFUL and slot_s is None:
            raise NotPossible("Say which reading is doubtful.")
        if takes_back is not None:
            _require_takable(takes_back, run, what)
        return cls.objects.create(
            run=run,
            what=what,
            slot_s=slot_s,
            note=note,
            seen_at=seen_at,
            takes_back=takes_back,
            entry=entry,
            by=by,
            at=at,
        )


def _require_takable(earlier: Observation, run: Run, what: str) -> None:
    if earlier.run_id != run.pk or earlier.what != what or earlier.takes_back_id is not None:
        raise NotPossible(f"“{earlier}” is not what is being taken back here.")
    if hasattr(earlier, "taken_back_by"):
        raise NotPossible(f"“{earlier}” was taken back already, by {earlier.taken_back_by.by}.")


@audited
class RunVoid(models.Model):
    """
    The act that makes a run void: its figures never leave the house, unless the QA officer lifts it.

    Lifted, it stays on record, and the run may be made void again.
    """

    class Why(models.TextChoices):
        SPILL = "soil or liquid was lost"
        WRONG_CYLINDER = "emptied into the wrong cylinder"
        TWO_SAMPLES = "two samples in one cylinder"
        FLOCCULATED = "the soil flocculated"
        NO_DISPERSANT = "no dispersant was added"
        BROKEN = "the cylinder broke"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="voids")
    why = models.CharField(max_length=48, choices=Why.choices)
    note = models.CharField(max_length=300, blank=True)
    voided_at = models.DateTimeField()
    entry = models.OneToOneField("batches.Entry", on_delete=models.PROTECT, related_name="run_void")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        triggers = [
            never_changed(),
            batch_open_for_readings(),
            pgtrigger.Trigger(
                name="one_standing_void",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func="""
                IF EXISTS (
                    SELECT 1 FROM batches_runvoid v LEFT JOIN batches_voidlifted l ON l.void_id = v.id
                     WHERE v.run_id = NEW.run_id AND l.id IS NULL
                ) THEN
                    RAISE EXCEPTION 'the run is void already' USING ERRCODE = 'check_violation';
                END IF;
                RETURN NEW;
                """,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run}, void"

    @property
    def in_words(self) -> str:
        note = f" ({self.note})" if self.note else ""
        return f"{self.why}{note}"

    @classmethod
    def record(
        cls, run: Run, *, why: str, note: str, voided_at: datetime, entry: Any, by: Any, at: datetime
    ) -> RunVoid:
        """Make a run void. What was measured stays on record; nothing more is read."""
        batch = run.open_bench("no run is made void", states=NOTED_IN, by=by)
        run.require_past(voided_at, at)
        void = cls.objects.create(run=run, why=why, note=note, voided_at=voided_at, entry=entry, by=by, at=at)
        if batch.state == BatchState.RUNNING and batch.is_read:
            batch.transition(BatchState.READINGS_COMPLETE, by=by, at=at)
        return void


@audited
class VoidLifted(models.Model):
    """The QA officer's word that a run was made void by mistake; what was measured counts again."""

    void = models.OneToOneField(RunVoid, on_delete=models.PROTECT, related_name="lifted")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "lifted voids"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="lifting_says_why")]
        triggers = [
            never_changed(),
            pgtrigger.Trigger(
                name="batch_not_closed",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func="""
                IF EXISTS (
                    SELECT 1 FROM batches_runvoid v JOIN batches_run u ON u.id = v.run_id
                      JOIN batches_batch b ON b.id = u.batch_id
                     WHERE v.id = NEW.void_id AND b.state IN ('approved', 'rejected', 'aborted')
                ) THEN
                    RAISE EXCEPTION 'no run of a closed batch is made valid again' USING ERRCODE = 'check_violation';
                END IF;
                RETURN NEW;
                """,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.void}, lifted"
