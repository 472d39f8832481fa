"""Requests for a computation, and the results and flags that came out."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cached_property

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from batches.planning.models import Run
from particles.distribution import SizeDistribution, from_plain
from particles.models import MethodEditionRecord
from particles.records.history import audited, never_changed, never_deleted
from particles.records.moves import allowed_moves

HEARTBEAT_LOST_AFTER = timedelta(seconds=70)
"""Longer than the hard time limit of a task: whoever is silent for so long is gone."""
NOTIFY_AGAIN_AFTER = timedelta(seconds=10)
MOST_ATTEMPTS = 5


class RequestState(models.TextChoices):
    """The way of a request from being asked for to its result."""

    ASKED = "asked"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


MOVES: dict[str, tuple[str, ...]] = {
    RequestState.ASKED: (RequestState.RUNNING,),
    RequestState.RUNNING: (RequestState.DONE, RequestState.ASKED, RequestState.FAILED),
    RequestState.DONE: (RequestState.ASKED,),  # when its inputs had changed meanwhile and are back
    RequestState.FAILED: (RequestState.ASKED,),
}


class RequestQuerySet(models.QuerySet["ComputationRequest"]):
    """Requests, and how a worker takes one and gives it back."""

    def claim(self, pk: int, *, at: datetime) -> ComputationRequest | None:
        """Take an asked request for this worker; None when another has it or it is done."""
        taken = self.filter(pk=pk, state=RequestState.ASKED).update(
            state=RequestState.RUNNING, heartbeat_at=at, attempts=F("attempts") + 1
        )
        return self.get(pk=pk) if taken else None

    def give_back(self, request: ComputationRequest, *, error: str) -> None:
        """Return a request this worker could not finish through no fault of the run; failed after too many tries."""
        mine = self.filter(pk=request.pk, state=RequestState.RUNNING, attempts=request.attempts)
        mine.update(
            state=RequestState.FAILED if request.attempts >= MOST_ATTEMPTS else RequestState.ASKED,
            error=error,
        )

    def give_up_lost(self, *, at: datetime) -> int:
        """Ask again for requests whose worker fell silent; those tried too often have failed."""
        lost = self.filter(state=RequestState.RUNNING, heartbeat_at__lt=at - HEARTBEAT_LOST_AFTER)
        failed = lost.filter(attempts__gte=MOST_ATTEMPTS).update(
            state=RequestState.FAILED,
            error=f"The worker was lost {MOST_ATTEMPTS} times while computing this run.",
        )
        return failed + lost.filter(attempts__lt=MOST_ATTEMPTS).update(state=RequestState.ASKED)

    def waiting(self, *, at: datetime) -> RequestQuerySet:
        """Requests that have waited so long that their notice must have been lost."""
        return self.filter(state=RequestState.ASKED, asked_at__lt=at - NOTIFY_AGAIN_AFTER)


@audited
class ComputationRequest(models.Model):
    """
    The truth about a computation that was asked for.

    A message to a worker is only a notice. A lost one changes nothing here, and the workers
    are notified again of every row that has waited.
    """

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="requests")
    inputs_digest = models.CharField(max_length=64)
    state = models.CharField(max_length=8, choices=RequestState.choices, default=RequestState.ASKED)
    attempts = models.PositiveSmallIntegerField(default=0)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    turn = models.PositiveIntegerField(
        default=1, help_text="Among the run's requests; the highest is in force."
    )
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    error = models.TextField(blank=True)

    objects = RequestQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["run", "inputs_digest"], name="one_request_per_run_and_inputs"),
            models.UniqueConstraint(fields=["run", "turn"], name="one_request_per_turn"),
            models.CheckConstraint(
                condition=~Q(state=RequestState.FAILED) | ~Q(error=""), name="a_failure_says_why"
            ),
        ]
        triggers = [allowed_moves(MOVES), never_deleted()]

    def __str__(self) -> str:
        return f"computation of {self.run}"


@audited
class Result(models.Model):
    """The figures of one run, with everything needed to get them again."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="results")
    request = models.OneToOneField(ComputationRequest, on_delete=models.PROTECT, related_name="result")
    method = models.ForeignKey(MethodEditionRecord, on_delete=models.PROTECT, related_name="+")
    inputs = models.JSONField()
    inputs_digest = models.CharField(max_length=64)
    engine_version = models.CharField(max_length=16)
    seed = models.CharField(max_length=40, blank=True)
    figures = models.JSONField(null=True, help_text="Null when the run cannot be computed.")
    certifiable = models.BooleanField()
    computed_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["run", "inputs_digest"], name="one_result_per_run_and_inputs"),
            models.CheckConstraint(
                condition=Q(certifiable=False) | Q(figures__isnull=False),
                name="nothing_certifiable_without_figures",
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"result of {self.run}"

    @cached_property
    def distribution(self) -> SizeDistribution | None:
        """The figures as the core's value; None when nothing could be computed."""
        return None if self.figures is None else from_plain(self.figures)


def result_in_force(run: Run) -> Result | None:
    """The result that belongs to the request in force; None while that one is being computed."""
    request = run.requests.order_by("-turn").first()
    return None if request is None else run.results.filter(request=request).first()


@audited
class Flag(models.Model):
    """Something a person must know about a result: what, the number, what to do next."""

    class Severity(models.TextChoices):
        """The three severities of a finding, the lightest first."""

        NOTE = "note"
        WARN = "warn"
        STOP = "stop"

    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="flags")
    code = models.CharField(max_length=48)
    severity = models.CharField(max_length=4, choices=Severity.choices)
    sentence = models.TextField()
    next_step = models.TextField()
    number = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=16, blank=True)
    reading_index = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["result", "pk"]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.severity}: {self.sentence}"

    @property
    def needs_review(self) -> bool:
        """Whether a reviewer still has to write a note on the flag."""
        return self.severity != self.Severity.NOTE and not hasattr(self, "review")
