"""Second readings: the same cylinder at the same slot, read by another person within seconds."""

from __future__ import annotations

import pgtrigger
from django.db import models
from django.db.models import Q

from batches.bench.models import Reading, Replunge
from batches.entries.models import EnteredAct
from batches.planning.models import Run, Source, batch_open_for_readings
from particles.records.history import audited, never_changed


@audited
class SecondReading(EnteredAct):
    """
    A second look at one slot, kept beside the reading that counts; no figure rests on it.

    It may arrive before the first one, from a tablet that was quicker; they are compared once both are there.
    """

    batch_path = "run__batch"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="second_readings")
    replunge = models.ForeignKey(
        Replunge,
        on_delete=models.PROTECT,
        related_name="second_readings",
        null=True,
        blank=True,
        help_text="The time zero it counts from; none: the first start.",
    )
    slot_s = models.PositiveIntegerField(help_text="Nominal time of the schedule. [s]")
    reading = models.DecimalField(max_digits=8, decimal_places=4)
    elapsed_s = models.DecimalField(
        max_digits=10, decimal_places=1, help_text="True time since the start. [s]"
    )
    taken_at = models.DateTimeField()
    source = models.CharField(max_length=8, choices=Source.choices)

    class Meta:
        ordering = ["run", "slot_s", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "replunge", "slot_s", "by"],
                nulls_distinct=False,
                name="one_second_reading_per_zero_slot_and_person",
            ),
            models.CheckConstraint(condition=Q(elapsed_s__gt=0), name="second_elapsed_time_positive"),
        ]
        triggers = [
            never_changed(),
            batch_open_for_readings(),
            pgtrigger.Trigger(
                name="read_by_another_person",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func=pgtrigger.Func(
                    """
                    IF EXISTS (
                        SELECT 1 FROM batches_reading r
                         WHERE r.run_id = NEW.run_id AND r.slot_s = NEW.slot_s AND r.by_id = NEW.by_id
                           AND r.replunge_id IS NOT DISTINCT FROM NEW.replunge_id
                    ) THEN
                        RAISE EXCEPTION 'a second reading is read by another person'
                            USING ERRCODE = 'check_violation';
                    END IF;
                    RETURN NEW;
                    """
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"second reading, {self.slot_s} s of {self.run}"


def first_of(second: SecondReading) -> Reading | None:
    """
    The reading that a second one is compared with: the first complete one, while no other person has corrected it.

    None before it is there, where it holds no number, and where it is no other person's.
    """
    attempts = [
        each
        for each in second.run.readings.all()
        if (each.slot_s, each.replunge_id) == (second.slot_s, second.replunge_id)
    ]
    attempts.sort(key=lambda each: each.attempt)
    if not attempts or len({each.by_id for each in attempts}) > 1:
        return None
    newest = attempts[-1]
    return None if newest.reading is None or newest.by_id == second.by_id else newest
