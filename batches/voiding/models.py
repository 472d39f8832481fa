"""The acts that make a run void, lift that, or take a duplicate out of its batch."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pgtrigger
from django.conf import settings
from django.db import models, transaction
from django.db.models import Q

from batches.balance.models import Purpose, Weighing
from batches.bench.models import NOTED_IN
from batches.planning.models import BatchState, Run, batch_open_for_readings
from particles.models import Portion
from particles.records.history import audited, never_changed
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


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


@audited
class TakenOut(models.Model):
    """The act that takes a duplicate's run out of the plan. The run and its portion stay on record."""

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="taken_out")
    reason = models.CharField(max_length=300, help_text="Why the duplicate cannot be weighed.")
    entry = models.OneToOneField("batches.Entry", on_delete=models.PROTECT, related_name="taken_out")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "taken out"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="taking_out_says_why")]
        triggers = [
            never_changed(),
            pgtrigger.Trigger(
                name="only_a_duplicate_not_weighed",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func=pgtrigger.Func(
                    """
                    IF NOT EXISTS (
                        SELECT 1 FROM batches_run u JOIN batches_batch b ON b.id = u.batch_id
                          JOIN particles_portion p ON p.id = u.portion_id
                         WHERE u.id = NEW.run_id AND b.state = 'planned' AND p.duplicate_of_id IS NOT NULL
                           AND NOT EXISTS (
                               SELECT 1 FROM batches_weighing w WHERE w.portion_id = p.id AND w.purpose = 'portion'
                           )
                    ) THEN
                        RAISE EXCEPTION 'only a duplicate not weighed is taken out, before the soak'
                            USING ERRCODE = 'check_violation';
                    END IF;
                    RETURN NEW;
                    """
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run}, taken out"

    @classmethod
    @transaction.atomic
    def record(cls, portion: Portion, *, reason: str, entry: Any, by: Any, at: datetime) -> TakenOut:
        """Take the run of a duplicate out of a planned batch; its cylinder is free for another batch."""
        run = Run.objects.filter(portion=portion).select_related("batch").first()
        if run is None or portion.duplicate_of_id is None:
            raise NotPossible(f"{portion} is no duplicate. Its batch is given up, or planned without it.")
        batch = run.batch.lock()
        if batch.state != BatchState.PLANNED:
            raise WrongState(f"{batch} is “{batch.state}”; a duplicate is taken out before the soak.")
        if (earlier := cls.objects.filter(run=run).first()) is not None:
            raise AlreadyThere(f"{portion} was taken out already, by {earlier.by}: {earlier.reason}")
        if Weighing.objects.filter(portion=portion, purpose=Purpose.PORTION).exists():
            raise NotPossible(f"{portion} is weighed. It runs with the batch; void its run if soil was lost.")
        if not reason.strip():
            raise NotPossible("Say why the duplicate cannot be weighed.")
        return cls.objects.create(run=run, reason=reason, entry=entry, by=by, at=at)
