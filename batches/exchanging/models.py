"""The acts of the QA officer that move records between cylinders, or leave readings out; both versions stay."""

from __future__ import annotations

import pgtrigger
from django.db import models
from django.db.models import F, Q

from batches.planning.models import BatchState, Run
from batches.templatetags.plain_figures import slot
from particles.records.act import ReasonedAct
from particles.records.history import audited, never_changed

PUT_RIGHT_IN = (BatchState.READINGS_COMPLETE, BatchState.RETURNED, BatchState.SUBMITTED, BatchState.REOPENED)
"""While records are put under another cylinder, left out or replaced by the QA officer."""


def batch_open_for_putting_right(joined: str) -> pgtrigger.Trigger:
    """The database takes none of these acts in a batch that is not read to the end, or is signed or closed."""
    states = ", ".join(f"'{state}'" for state in PUT_RIGHT_IN)
    return pgtrigger.Trigger(
        name="batch_open_for_putting_right",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        func=f"""
        IF NOT EXISTS (
            SELECT 1 FROM batches_run u JOIN batches_batch b ON b.id = u.batch_id
             WHERE {joined} AND b.state IN ({states})
        ) THEN
            RAISE EXCEPTION 'nothing is put right in this batch now' USING ERRCODE = 'check_violation';
        END IF;
        RETURN NEW;
        """,
    )


@audited
class Exchange(ReasonedAct):
    """
    The act by which two cylinders of a batch exchange what was recorded at them.

    Without slots everything recorded at the cylinders is exchanged; with a first slot the readings from it on, with
    the same last slot that reading alone. Portions, their masses and their samples stay where they are.
    """

    batch_path = "first__batch"

    first = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="exchanges_as_first")
    second = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="exchanges_as_second")
    from_slot_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="First slot exchanged; empty: everything of the cylinders. [s]"
    )
    until_slot_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="Last slot exchanged; empty: up to the end. [s]"
    )
    with_sieve_masses = models.BooleanField(
        default=False, help_text="Also what was washed out of the cylinders and sieved."
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(first=F("second")), name="an_exchange_has_two_runs"),
            models.CheckConstraint(condition=~Q(reason=""), name="an_exchange_says_why"),
            models.CheckConstraint(
                condition=Q(from_slot_s__isnull=True, until_slot_s__isnull=True)
                | Q(from_slot_s__isnull=False, with_sieve_masses=False)
                & (Q(until_slot_s__isnull=True) | Q(until_slot_s__gte=F("from_slot_s"))),
                name="slots_exchanged_are_in_order",
            ),
        ]
        triggers = [
            never_changed(),
            batch_open_for_putting_right(
                "u.id = NEW.first_id AND u.batch_id = (SELECT batch_id FROM batches_run WHERE id = NEW.second_id)"
            ),
        ]

    def __str__(self) -> str:
        return f"exchange between {self.first.title} and {self.second.title}"

    def covers(self, slot_s: int) -> bool:
        """Whether the reading of this slot is exchanged."""
        if self.from_slot_s is None:
            return True
        return self.from_slot_s <= slot_s <= (slot_s if self.until_slot_s is None else self.until_slot_s)

    @property
    def what(self) -> str:
        """The part of the records that is exchanged, in words."""
        if self.from_slot_s is None:
            sieved = ", with what was sieved" if self.with_sieve_masses else ""
            return f"everything recorded at the cylinders{sieved}"
        if self.until_slot_s is None:
            return f"the readings from {slot(self.from_slot_s)} on"
        if self.until_slot_s == self.from_slot_s:
            return f"the reading at {slot(self.from_slot_s)}"
        return f"the readings from {slot(self.from_slot_s)} to {slot(self.until_slot_s)}"

    @property
    def in_words(self) -> str:
        """Both cylinders and the part exchanged, in words."""
        first, second = self.first, self.second
        return (
            f"{first.title} (cylinder {first.cylinder.serial}) and {second.title} "
            f"(cylinder {second.cylinder.serial}): {self.what}"
        )


@audited
class ExchangeUndone(ReasonedAct):
    """The act that takes an exchange back; the records stand under their own cylinders again."""

    batch_path = "exchange__first__batch"

    exchange = models.OneToOneField(Exchange, on_delete=models.PROTECT, related_name="undone")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "exchanges undone"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="undoing_says_why")]
        triggers = [
            never_changed(),
            batch_open_for_putting_right(
                "u.id = (SELECT first_id FROM batches_exchange WHERE id = NEW.exchange_id)"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.exchange}, undone"


@audited
class LeftOut(ReasonedAct):
    """
    The act by which one reading of a cylinder does not count; of the blank's cylinder, for every run.

    It names the cylinder at which the reading was recorded, and goes with it when that is exchanged.
    """

    batch_path = "run__batch"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="left_out")
    slot_s = models.PositiveIntegerField(help_text="Nominal time of the reading. [s]")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "left out"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="leaving_out_says_why")]
        triggers = [
            never_changed(),
            batch_open_for_putting_right("u.id = NEW.run_id"),
            pgtrigger.Trigger(
                name="left_out_once",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func="""
                IF EXISTS (
                    SELECT 1 FROM batches_leftout o LEFT JOIN batches_leftoutlifted l ON l.left_out_id = o.id
                     WHERE o.run_id = NEW.run_id AND o.slot_s = NEW.slot_s AND l.id IS NULL
                ) THEN
                    RAISE EXCEPTION 'this reading is left out already' USING ERRCODE = 'check_violation';
                END IF;
                RETURN NEW;
                """,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.slot_s} s of {self.run}, left out"


@audited
class LeftOutLifted(ReasonedAct):
    """The act by which a reading that was left out counts again."""

    batch_path = "left_out__run__batch"

    left_out = models.OneToOneField(LeftOut, on_delete=models.PROTECT, related_name="lifted")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "left out, lifted"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="counting_again_says_why")]
        triggers = [
            never_changed(),
            batch_open_for_putting_right(
                "u.id = (SELECT run_id FROM batches_leftout WHERE id = NEW.left_out_id)"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.left_out}, lifted"
