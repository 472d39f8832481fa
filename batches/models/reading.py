from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.models.batch import OPEN_FOR_READINGS, BatchState
from batches.models.equipment import HydrometerRecord, Thermometer
from batches.models.replunge import Replunge
from batches.models.run import Run, Source, batch_open_for_readings
from particles.distribution import HydrometerScale, ReadingState
from particles.models.history import audited, never_changed
from particles.refusals import AlreadyThere, NotPossible

COLDEST_C, WARMEST_C = 10, 40
"""Outside, the water formulas do not hold (and a Fahrenheit thermometer was read)."""


class TimeDoubt(models.TextChoices):
    """What happened to a tablet's clock, so that only the laboratory's time could prove it again."""

    RESTARTED = "restarted", "the tablet was restarted or its page reloaded without network"
    SLEPT = "slept", "the tablet slept, or its clock was moved while nobody saw it"


@audited
class Reading(models.Model):
    """
    One slot of the schedule as it happened: a number, or why there is none.

    A correction is a new row with the next attempt and its reason; the highest attempt counts.
    """

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
    source = models.CharField(max_length=8, choices=Source.choices)
    reason = models.CharField(max_length=300, blank=True)
    entry = models.OneToOneField("batches.Entry", on_delete=models.PROTECT, related_name="reading")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

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

    @classmethod
    def record(
        cls,
        run: Run,
        *,
        slot_s: int,
        state: str,
        reading: Decimal | None,
        elapsed_s: Decimal | None,
        temperature_c: Decimal | None,
        source: str,
        reason: str,
        entry: Any,
        by: Any,
        at: datetime,
        counted_from: datetime | None = None,
        time_doubt: str | None = None,
        time_doubt_s: Decimal | None = None,
    ) -> Reading:
        """
        Store one reading of a running cylinder, or say why it cannot be.

        `counted_from` is the time zero a tablet took the elapsed time from.
        """
        batch = run.open_bench("no readings are taken", states=OPEN_FOR_READINGS, by=by)
        if slot_s not in {int(s) for s in batch.method.edition.schedule_s}:
            raise NotPossible(f"{slot_s} s is not a time of “{batch.method}”.")
        taken_at = None
        if elapsed_s is not None:
            taken_at = run.require_readable(float(elapsed_s), at, counted_from)
        if temperature_c is not None:
            _require_possible_temperature(temperature_c)
        if reading is not None:
            _require_on_stem(batch.hydrometer, reading)
        if elapsed_s is not None:
            _require_in_order(run, slot_s, elapsed_s)
        zero = run.replunge
        earlier = cls.objects.filter(run=run, replunge=zero, slot_s=slot_s).order_by("-attempt").first()
        if earlier is not None and not reason:
            raise AlreadyThere(
                f"Cylinder {run.cylinder.serial} has a reading for this time already: {earlier.in_words}, "
                f"by {earlier.by}. To correct it, say why; both stay on record."
            )
        stored = cls.objects.create(
            run=run,
            replunge=zero,
            slot_s=slot_s,
            attempt=earlier.attempt + 1 if earlier else 1,
            state=state,
            reading=reading,
            elapsed_s=elapsed_s,
            temperature_c=temperature_c,
            taken_at=taken_at,
            time_doubt=time_doubt,
            time_doubt_s=time_doubt_s,
            hydrometer=batch.hydrometer,
            thermometer=batch.thermometer,
            source=source,
            reason=reason,
            entry=entry,
            by=by,
            at=at,
        )
        if batch.state == BatchState.RUNNING and batch.is_read:
            batch.transition(BatchState.READINGS_COMPLETE, by=by, at=at)
        return stored

    @property
    def in_words(self) -> str:
        return f"{self.reading.normalize():f}" if self.reading is not None else self.state


def _require_in_order(run: Run, slot_s: int, elapsed_s: Decimal) -> None:
    """A later slot cannot have been read before an earlier one."""
    for other in run.current_readings:
        if other.elapsed_s is None or other.slot_s == slot_s:
            continue
        if (other.slot_s < slot_s) != (other.elapsed_s < elapsed_s):
            raise NotPossible(
                f"{elapsed_s} s for the {slot_s} s reading contradicts {other.elapsed_s} s for the "
                f"{other.slot_s} s reading. Check both times and the cylinder."
            )


def _require_possible_temperature(temperature_c: Decimal) -> None:
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        hint = " That looks like Fahrenheit." if 50 <= temperature_c <= 104 else ""
        raise NotPossible(
            f"{temperature_c} °C lies outside {COLDEST_C} to {WARMEST_C} °C.{hint} Read the thermometer again."
        )


def _looks_like_relative_density(reading: Decimal) -> bool:
    """A 152H is read to half a gram per litre: three decimals around 1 were read on the other scale."""
    exponent = reading.as_tuple().exponent
    return Decimal("0.98") < reading < Decimal("1.07") and isinstance(exponent, int) and exponent <= -3


def _require_on_stem(hydrometer: HydrometerRecord, reading: Decimal) -> None:
    if hydrometer.scale == HydrometerScale.GRAMS_PER_LITRE and _looks_like_relative_density(reading):
        raise NotPossible(
            f"{reading} is a relative density; {hydrometer} is graduated in g/L. Which one was read?"
        )
    low, high = hydrometer.scale_minimum, hydrometer.scale_maximum
    if low <= reading <= high:
        return
    raise NotPossible(
        f"{reading} is not on the stem of {hydrometer} ({low.normalize():f} to {high.normalize():f}). "
        "If the liquid stood above the scale, record “above scale”."
    )
