"""The acts that make a run void, lift that, or take a duplicate out of its batch."""

from __future__ import annotations

import pgtrigger
from django.db import models
from django.db.models import Q

from batches.entries.models import EnteredAct
from batches.planning.models import Run, RunQuerySet, batch_open_for_readings
from particles.records.act import ReasonedAct, Side
from particles.records.history import audited, never_changed


@audited
class RunVoid(EnteredAct):
    """
    The act that makes a run void: its figures never leave the laboratory, unless the QA officer lifts it.

    Lifted, it stays on record, and the run may be made void again.
    """

    batch_path = "run__batch"

    class Why(models.TextChoices):
        """Causes that make a run void."""

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
        """The cause and the note, in words."""
        note = f" ({self.note})" if self.note else ""
        return f"{self.why}{note}"


@audited
class VoidLifted(ReasonedAct):
    """The QA officer's word that a run was made void by mistake; what was measured counts again."""

    batch_path = "void__run__batch"
    side = Side.REVIEW

    void = models.OneToOneField(RunVoid, on_delete=models.PROTECT, related_name="lifted")

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


def void_of(run: Run) -> RunVoid | None:
    """The act that makes a run void, unless it was lifted."""
    return next((each for each in run.voids.all() if not hasattr(each, "lifted")), None)


def is_void(run: Run) -> bool:
    """Whether a run was made void and that stands."""
    return void_of(run) is not None


def not_void(runs: RunQuerySet) -> RunQuerySet:
    """Runs without those that were made void, unless that was lifted."""
    return runs.exclude(pk__in=RunVoid.objects.filter(lifted__isnull=True).values("run"))
