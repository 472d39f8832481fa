"""What happens at a cylinder: its start, second stirrings, readings and observations."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from batches.equipment.models import HydrometerRecord, Thermometer
from batches.planning.models import OPEN_FOR_READINGS, BatchState, Run, Source, batch_open_for_readings
from particles.distribution import HydrometerScale, ReadingState, Sight
from particles.distribution.possible import RELATIVE_DENSITY_POSSIBLE, TEMPERATURE_POSSIBLE_C
from particles.records.history import audited, never_changed
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


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


COLDEST_C, WARMEST_C = (int(end) for end in TEMPERATURE_POSSIBLE_C.ends)
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
    return reading in RELATIVE_DENSITY_POSSIBLE and isinstance(exponent, int) and exponent <= -3


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
