"""Bench days as they were asked for, the timetables found, the versions kept, and calendars."""

from __future__ import annotations

from datetime import datetime, timedelta

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Q

from batches.planning.models import Batch
from particles.records.act import Act
from particles.records.history import audited, never_changed, never_deleted
from particles.records.moves import allowed_moves

SEARCH_S = 30
"""How long better timetables are sought, within the time limit of a task. [s]"""
LOST_AFTER = timedelta(seconds=70)
"""Longer than the hard time limit of a task: a worker that has been silent for so long is gone."""
NOT_TAKEN_AFTER = timedelta(seconds=15)
"""A message that no worker has taken up after so long is said to wait. *Common practice*."""


class SearchState(models.TextChoices):
    """The way of a search from being asked for to its end."""

    ASKED = "asked"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


MOVES: dict[str, tuple[str, ...]] = {
    SearchState.ASKED: (SearchState.RUNNING,),
    SearchState.RUNNING: (SearchState.DONE, SearchState.FAILED, SearchState.ASKED),
    SearchState.DONE: (SearchState.ASKED,),
    SearchState.FAILED: (SearchState.ASKED,),
}


class BenchDayQuerySet(models.QuerySet["BenchDay"]):
    """Bench days, and how a worker takes up a search."""

    def claim(self, pk: int, *, at: datetime) -> BenchDay | None:
        """Take a search that was asked for; None when another worker has it or it has ended."""
        taken = self.filter(pk=pk, state=SearchState.ASKED).update(
            state=SearchState.RUNNING, search_began_at=at, heartbeat_at=at, attempts=F("attempts") + 1
        )
        return self.get(pk=pk) if taken else None

    def mine(self, day: BenchDay) -> BenchDayQuerySet:
        """The row of a day while the search that took it up still has it."""
        return self.filter(pk=day.pk, state=SearchState.RUNNING, attempts=day.attempts)


@audited
class BenchDay(models.Model):
    """
    A bench day as somebody asked for it: batches, people with their hours, pace, slide; and how far its search is.

    What was asked for stands in plain values, in seconds from the origin, and is never changed. A worker needs
    nothing else.
    """

    MOVES = MOVES

    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    origin_at = models.DateTimeField(help_text="The moment from which all seconds of the day count.")
    asked = models.JSONField()
    hours = models.JSONField(help_text="Of each person on each day, as they were typed.")
    state = models.CharField(max_length=8, choices=SearchState.choices, default=SearchState.ASKED)
    search_asked_at = models.DateTimeField()
    search_began_at = models.DateTimeField(null=True, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    error = models.TextField(blank=True)

    objects = BenchDayQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state=SearchState.FAILED) | ~Q(error=""), name="a_failed_search_says_why"
            ),
            models.CheckConstraint(
                condition=~Q(state=SearchState.RUNNING)
                | Q(search_began_at__isnull=False, heartbeat_at__isnull=False),
                name="a_running_search_has_begun",
            ),
        ]
        triggers = [
            allowed_moves(MOVES),
            never_deleted(),
            pgtrigger.Protect(
                name="what_was_asked_stays",
                operation=pgtrigger.Update,
                condition=pgtrigger.AnyChange("asked_by", "asked_at", "origin_at", "asked", "hours"),
            ),
        ]

    def __str__(self) -> str:
        return f"bench day {self.pk}"

    def at(self, seconds: int) -> datetime:
        """The moment so many seconds after the origin."""
        return self.origin_at + timedelta(seconds=seconds)

    @property
    def is_sought(self) -> bool:
        """Whether a worker has the search or is to take it up."""
        return self.state in (SearchState.ASKED, SearchState.RUNNING)

    @property
    def sought_until(self) -> datetime | None:
        """When the search that is under way ends; None while none is."""
        if self.state != SearchState.RUNNING or self.search_began_at is None:
            return None
        return self.search_began_at + timedelta(seconds=SEARCH_S)

    def is_lost(self, at: datetime) -> bool:
        """Whether the worker that had the search fell silent."""
        return (
            self.state == SearchState.RUNNING
            and self.heartbeat_at is not None
            and self.heartbeat_at < at - LOST_AFTER
        )

    def waits_long(self, at: datetime) -> bool:
        """Whether no worker has taken the search up in the time that one needs."""
        return self.state == SearchState.ASKED and self.search_asked_at < at - NOT_TAKEN_AFTER

    @property
    def best(self) -> FoundTimetable:
        """The newest timetable found; the first fit is there from the start."""
        found = self.found.order_by("-turn").first()
        assert found is not None, "a day is stored with its first timetable"
        return found


@audited
class BatchOfDay(models.Model):
    """One batch of a bench day."""

    day = models.ForeignKey(BenchDay, on_delete=models.PROTECT, related_name="batches")
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="bench_days")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["day", "batch"], name="a_batch_once_in_a_day")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.batch} in {self.day}"


@audited
class FoundTimetable(models.Model):
    """A timetable that was found for a day: the first fit, then each better one."""

    day = models.ForeignKey(BenchDay, on_delete=models.PROTECT, related_name="found")
    turn = models.PositiveIntegerField()
    acts = models.JSONField()
    not_placed = models.JSONField()
    last_start_s = models.IntegerField(null=True, blank=True)
    lower_bound_s = models.IntegerField(
        null=True, blank=True, help_text="Nothing starts the last one earlier."
    )
    proven = models.BooleanField(default=False)
    found_at = models.DateTimeField()

    class Meta:
        ordering = ["day", "turn"]
        constraints = [models.UniqueConstraint(fields=["day", "turn"], name="one_timetable_per_turn")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"timetable {self.turn} of {self.day}"


@audited
class KeptTimetable(Act):
    """The act by which a timetable comes into force for the bench; the one with the highest number is in force."""

    batch_path = "found__day__batches__batch"

    number = models.PositiveIntegerField(unique=True)
    found = models.OneToOneField(FoundTimetable, on_delete=models.PROTECT, related_name="kept")
    was_late = models.BooleanField(
        default=False, help_text="Planned again from that moment by whoever was late."
    )

    class Meta:
        ordering = ["number"]
        verbose_name = "timetable of the bench"
        verbose_name_plural = "timetables of the bench"
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"timetable {self.number}"


@audited
class CalendarAddress(Act):
    """
    The secret address under which a person's calendar fetches what is due; only its digest is kept.

    The person makes it and ends it. Nothing else of the row ever changes.
    """

    digest = models.CharField(
        max_length=64, unique=True, help_text="SHA-256 of the secret part of the address."
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "calendar addresses"
        constraints = [
            models.UniqueConstraint(
                fields=["by"], condition=Q(ended_at__isnull=True), name="one_open_calendar_address_each"
            ),
        ]
        triggers = [
            never_deleted(),
            pgtrigger.Protect(
                name="only_ended_and_once",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__ended_at__isnull=False)
                | pgtrigger.Q(old__by__df=pgtrigger.F("new__by"))
                | pgtrigger.Q(old__at__df=pgtrigger.F("new__at"))
                | pgtrigger.Q(old__digest__df=pgtrigger.F("new__digest")),
            ),
        ]

    def __str__(self) -> str:
        return f"calendar address of {self.by}"


def in_force() -> KeptTimetable | None:
    """The timetable in force, with its day; None before any was kept."""
    return KeptTimetable.objects.select_related("by", "found__day").order_by("-number").first()
