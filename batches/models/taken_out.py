"""A duplicate that cannot be weighed, taken out of its batch before the soak."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pgtrigger
from django.conf import settings
from django.db import models, transaction
from django.db.models import Q

from batches.models.batch import BatchState
from batches.models.run import Run
from batches.models.weighing import Purpose, Weighing
from particles.models import Portion
from particles.models.history import audited, never_changed
from particles.refusals import AlreadyThere, NotPossible, WrongState


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
