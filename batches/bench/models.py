"""The acts at a cylinder: its start, second stirrings, readings and observations."""

from __future__ import annotations

import pgtrigger
from django.db import models
from django.db.models import Q

from batches.entries.models import EnteredAct, Entry
from batches.equipment.models import HydrometerRecord, Thermometer
from batches.planning.models import Run, Source, batch_open_for_readings
from particles.distribution import ReadingState, Sight
from particles.distribution.possible import TEMPERATURE_POSSIBLE_C
from particles.records.act import Act, ReasonedAct
from particles.records.history import audited, never_changed


@audited
class Replunge(EnteredAct, ReasonedAct):
    """The readings before it are void and stay on record; those after it count from it."""

    batch_path = "run__batch"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="replunges")
    turn = models.PositiveSmallIntegerField(
        help_text="The first start is the first turn, this the second or later."
    )
    started_at = models.DateTimeField()
    source = models.CharField(max_length=8, choices=Source.choices)

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


@audited
class RunStart(EnteredAct):
    """Time zero of one cylinder."""

    batch_path = "run__batch"

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="run_start")
    started_at = models.DateTimeField()
    source = models.CharField(max_length=8, choices=Source.choices)

    class Meta:
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"start of {self.run}"


COLDEST_C, WARMEST_C = (int(end) for end in TEMPERATURE_POSSIBLE_C.ends)
"""Outside, the water formulas do not hold (and a Fahrenheit thermometer was read)."""


class TimeDoubt(models.TextChoices):
    """Reasons why a tablet's clock could not be trusted; only the laboratory's time proves such a clock again."""

    RESTARTED = "restarted", "the tablet was restarted or its page reloaded without network"
    SLEPT = "slept", "the tablet slept, or its clock was moved while nobody saw it"


@audited
class Reading(EnteredAct):
    """
    One slot of the schedule as it happened: a number, or why there is none.

    A correction is a new row with the next attempt and its reason; the highest attempt counts.
    """

    batch_path = "run__batch"

    STATES = [(s.value, s.value) for s in ReadingState]

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="readings")
    replunge = models.ForeignKey(
        Replunge,
        on_delete=models.PROTECT,
        related_name="readings",
        null=True,
        blank=True,
        help_text="The time zero it counts from; none: the first start.",
    )
    slot_s = models.PositiveIntegerField(help_text="Nominal time of the schedule. [s]")
    attempt = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=12, choices=STATES)
    reading = models.DecimalField(max_digits=8, decimal_places=4, null=True, blank=True)
    elapsed_s = models.DecimalField(
        max_digits=10, decimal_places=1, null=True, blank=True, help_text="True time since the start. [s]"
    )
    temperature_c = models.DecimalField(
        max_digits=4, decimal_places=1, null=True, blank=True, help_text="As read on the thermometer."
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    hydrometer = models.ForeignKey(HydrometerRecord, on_delete=models.PROTECT, related_name="+")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="+")
    # Null and not '', because the history chain hashes rows without their nulls.
    time_doubt = models.CharField(max_length=16, choices=TimeDoubt.choices, null=True, blank=True)  # noqa: DJ001
    time_doubt_s = models.DecimalField(
        max_digits=10,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="How far the tablet's clock was ahead when the laboratory's time was back; empty: unknown. [s]",
    )
    # Null and not '', because the history chain hashes rows without their nulls.
    unfit = models.TextField(  # noqa: DJ001
        null=True,
        blank=True,
        help_text="What was wrong with its instruments on the day it was taken; empty: nothing.",
    )
    source = models.CharField(max_length=8, choices=Source.choices)
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["run", "slot_s", "attempt"]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "replunge", "slot_s", "attempt"],
                nulls_distinct=False,
                name="one_reading_per_zero_slot_and_attempt",
            ),
            models.CheckConstraint(
                condition=Q(state="read", reading__isnull=False) | ~Q(state="read") & Q(reading__isnull=True),
                name="a_number_only_when_read",
            ),
            models.CheckConstraint(
                condition=Q(
                    state="missed", elapsed_s__isnull=True, temperature_c__isnull=True, taken_at__isnull=True
                )
                & ~Q(reason="")
                | ~Q(state="missed")
                & Q(elapsed_s__isnull=False, temperature_c__isnull=False, taken_at__isnull=False),
                name="missed_says_why_and_taken_says_when",
            ),
            models.CheckConstraint(condition=Q(attempt=1) | ~Q(reason=""), name="a_correction_says_why"),
            models.CheckConstraint(condition=Q(elapsed_s__gt=0), name="elapsed_time_positive"),
            models.CheckConstraint(
                condition=Q(temperature_c__gte=COLDEST_C, temperature_c__lte=WARMEST_C),
                name="temperature_possible",
            ),
            models.CheckConstraint(
                condition=Q(time_doubt__isnull=True, time_doubt_s__isnull=True)
                | Q(time_doubt__isnull=False, elapsed_s__isnull=False),
                name="a_doubtful_time_says_why",
            ),
        ]
        triggers = [never_changed(), batch_open_for_readings()]

    def __str__(self) -> str:
        return f"{self.slot_s} s of {self.run}"

    @property
    def in_words(self) -> str:
        """The reading as a plain number, or the state of a slot without one."""
        return f"{self.reading.normalize():f}" if self.reading is not None else self.state


@audited
class Observation(EnteredAct):
    """
    One thing somebody saw at a cylinder.

    Tapped by mistake it is taken back by a row of its own, which names it and says why.
    """

    batch_path = "run__batch"

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


@audited
class BlankReading(EnteredAct):
    """
    One reading of the blank between the times of the schedule: it serves by its temperature, whenever it was taken.

    A slip is taken back by a row of its own, which names it and says why.
    """

    batch_path = "run__batch"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="blank_readings")
    reading = models.DecimalField(max_digits=8, decimal_places=4, null=True, blank=True)
    temperature_c = models.DecimalField(
        max_digits=4, decimal_places=1, null=True, blank=True, help_text="As read on the thermometer."
    )
    taken_at = models.DateTimeField()
    hydrometer = models.ForeignKey(HydrometerRecord, on_delete=models.PROTECT, related_name="+")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=8, choices=Source.choices)
    note = models.CharField(max_length=300, blank=True)
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="taken_back_by", null=True, blank=True
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(takes_back__isnull=True, reading__isnull=False, temperature_c__isnull=False)
                | Q(takes_back__isnull=False, reading__isnull=True, temperature_c__isnull=True) & ~Q(note=""),
                name="a_blank_reading_or_its_taking_back",
            ),
            models.CheckConstraint(
                condition=Q(temperature_c__gte=COLDEST_C, temperature_c__lte=WARMEST_C),
                name="blank_temperature_possible",
            ),
        ]
        triggers = [never_changed(), batch_open_for_readings()]

    def __str__(self) -> str:
        return f"reading of the blank, {self.run}"


@audited
class HandedIn(Act):
    """
    An entry that lay on a shared tablet and was handed in by somebody else, who is its witness.

    The entry stays that of whoever took it; the witness has worked in the batch as well.
    """

    batch_path = "run__batch"

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="handed_in")
    run = models.ForeignKey(
        Run, on_delete=models.PROTECT, related_name="+", null=True, blank=True,
        help_text="Of which the entry is; none where it names no cylinder.",
    )  # fmt: skip

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "entries handed in"
        triggers = [
            never_changed(),
            pgtrigger.Trigger(
                name="a_witness_is_another_person",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func=f"""
                    IF NEW.by_id = (SELECT by_id FROM {Entry._meta.db_table} WHERE id = NEW.entry_id) THEN
                        RAISE EXCEPTION 'a witness is another person' USING ERRCODE = 'check_violation';
                    END IF;
                    RETURN NEW;
                """,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.entry}, handed in by {self.by}"
