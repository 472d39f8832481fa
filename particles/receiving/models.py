"""Jobs and the bags that came with them."""

from __future__ import annotations

from collections.abc import Set
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import connection, models, transaction
from django.db.models import Exists, OuterRef, Q, Value
from django.db.models.functions import Lower
from django.utils import timezone

from particles.clients.models import Client
from particles.methods.models import MethodEditionRecord
from particles.permits.models import RegulatedArea
from particles.records.act import done
from particles.records.history import audited, never_changed, never_deleted
from particles.records.moves import Move, allowed_moves, change_state
from particles.records.numbers import NumberSeries
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


class JobQuerySet(models.QuerySet["Job"]):
    """Jobs, and which of them a person may see."""

    def visible_to(self, user: Any) -> JobQuerySet:
        """Jobs of the clients a person may see."""
        return self.filter(client__in=Client.objects.visible_to(user))


@audited
class Job(models.Model):
    """A client's request for analysis, and the parcel it came with."""

    number = models.CharField(max_length=16, unique=True)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="jobs")
    client_reference = models.CharField(max_length=80, blank=True)
    method = models.ForeignKey(MethodEditionRecord, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    condition = models.CharField(
        max_length=200, blank=True, help_text="Of the parcel: wet, torn, leaking, mixed."
    )
    pretreatment_wish = models.CharField(max_length=200, blank=True)
    sand_by_sieve = models.BooleanField(default=False)
    wanted_by = models.DateField(null=True, blank=True)
    submission = models.UUIDField(
        unique=True, null=True, blank=True, help_text="Of the form it was logged with: one form is one job."
    )

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-received_at"]
        triggers = [never_deleted()]

    def __str__(self) -> str:
        return f"job {self.number}"

    @classmethod
    @transaction.atomic
    def log_once(cls, submission: UUID, *, by: Person, **logged: Any) -> tuple[Job, bool]:
        """The job of this submission, and whether it was logged now; a second click waits for the first."""
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [str(submission)])
        job = cls.objects.filter(submission=submission).first()
        if job is None:
            return cls.log(submission=submission, by=by, **logged), True
        if job.received_by_id != by.pk:
            raise AlreadyThere(f"This form was sent before by {job.received_by}: it is {job}.")
        return job, False

    @classmethod
    @transaction.atomic
    def log(cls, *, lines: list[dict[str, Any]], by: Person, at: datetime, **asked: Any) -> Job:
        """
        Log a job with its samples in the client's order.

        Each of `lines` holds the fields of one sample as the client wrote them. Nothing
        is renumbered or corrected; two equal labels need `same_label_confirmed`.
        """
        if not lines:
            raise NotPossible("A job needs at least one sample.")
        year = timezone.localdate(at).year
        job = cls.objects.create(
            number=f"J{year % 100:02d}-{NumberSeries.take('job', year):04d}",
            received_at=at,
            received_by_id=by.pk,
            **asked,
        )
        for position, line in enumerate(lines, start=1):
            job.samples.model.receive(job, line=position, by=by, at=at, **line)
        return job

    @property
    def plain_status(self) -> str:
        """The state of the job, in a client's words."""
        return status_in_words(set(self.samples.values_list("state", flat=True)))


def status_in_words(states: Set[str]) -> str:
    """The state of a job in a client's words, from the states of its samples."""
    done = {"reported", "refused", "cancelled"}
    if states <= done:
        return "Certificate issued" if "reported" in states else "Closed"
    if "on hold" in states:
        return "Waiting for an answer"
    if states <= done - {"reported"} | {"approved"}:
        return "Approved, certificate in preparation"
    if "reported" in states:
        return "Part issued, the rest follows"
    if states & {"in batch", "calculated", "under review"}:
        return "Being measured"
    return "Received"


class SampleState(models.TextChoices):
    """The states of a sample, from its arrival to its certificate."""

    ARRIVED = "arrived"
    ON_HOLD = "on hold"
    ACCEPTED = "accepted"
    REFUSED = "refused"
    CANCELLED = "cancelled"
    PREPARED = "prepared"
    WAITING = "waiting for batch"
    IN_BATCH = "in batch"
    CALCULATED = "calculated"
    UNDER_REVIEW = "under review"
    APPROVED = "approved"
    REPORTED = "reported"


MOVES: dict[str, tuple[str, ...]] = {
    SampleState.ARRIVED: (
        SampleState.ACCEPTED,
        SampleState.ON_HOLD,
        SampleState.REFUSED,
        SampleState.CANCELLED,
    ),
    SampleState.ON_HOLD: (SampleState.ACCEPTED, SampleState.REFUSED, SampleState.CANCELLED),
    SampleState.ACCEPTED: (SampleState.PREPARED, SampleState.ON_HOLD, SampleState.CANCELLED),
    SampleState.PREPARED: (SampleState.WAITING, SampleState.IN_BATCH, SampleState.CANCELLED),
    SampleState.WAITING: (SampleState.IN_BATCH, SampleState.PREPARED, SampleState.CANCELLED),
    SampleState.IN_BATCH: (SampleState.CALCULATED, SampleState.PREPARED, SampleState.CANCELLED),
    SampleState.CALCULATED: (
        SampleState.UNDER_REVIEW,
        SampleState.IN_BATCH,
        SampleState.PREPARED,
        SampleState.CANCELLED,
    ),
    SampleState.UNDER_REVIEW: (
        SampleState.APPROVED,
        SampleState.IN_BATCH,
        SampleState.PREPARED,
        SampleState.CANCELLED,
    ),
    SampleState.APPROVED: (SampleState.REPORTED, SampleState.PREPARED, SampleState.UNDER_REVIEW),
    SampleState.REPORTED: (SampleState.PREPARED, SampleState.UNDER_REVIEW),
}


OPEN_FOR_CORRECTION = (
    SampleState.PREPARED,
    SampleState.WAITING,
    SampleState.IN_BATCH,
    SampleState.CALCULATED,
)
"""While a preparation or a decision on pretreatment may be superseded."""


_INSTEAD_OF_CORRECTING = {
    SampleState.UNDER_REVIEW: "Ask the reviewer to return the batch to the bench, then correct it.",
    SampleState.APPROVED: (
        "What was signed stays. Tell the QA officer what is wrong: the batch is re-opened as nonconforming work, "
        "and no certificate is issued on it until it is signed anew."
    ),
    SampleState.REPORTED: (
        "What was signed stays. Tell the QA officer what is wrong: the batch is re-opened as nonconforming work, "
        "and the client hears of it by an amended certificate."
    ),
}


class SampleQuerySet(models.QuerySet["Sample"]):
    """Samples, and which of them a person may see."""

    def visible_to(self, user: Any) -> SampleQuerySet:
        """Samples of the jobs a person may see."""
        return self.filter(job__in=Job.objects.visible_to(user))

    def with_regulation(self) -> Any:
        """Samples marked `regulated` by the rule of `Sample.regulated_by`, in one query."""
        areas = RegulatedArea.covering(OuterRef("origin_country"), OuterRef("origin_region"))
        return self.annotate(regulated=Exists(areas))


@audited
class Sample(models.Model):
    """One bag, from the receiving bench to its certificate."""

    MOVES = MOVES
    State = SampleState

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="samples")
    line = models.PositiveSmallIntegerField(help_text="Place in the client's list.")
    lab_number = models.CharField(max_length=16, unique=True)
    client_label = models.CharField(max_length=80, help_text="Exactly as written on the bag.")
    same_label_confirmed = models.BooleanField(default=False, help_text="Really two bags with this label.")
    depth_text = models.CharField(max_length=40, blank=True, help_text="As the client gave it, with unit.")
    sampled_on = models.DateField(null=True, blank=True)
    origin_country = models.CharField(max_length=80)
    origin_region = models.CharField(max_length=120, blank=True)
    condition = models.CharField(max_length=200, blank=True)
    received_mass_g = models.DecimalField(max_digits=9, decimal_places=1, null=True, blank=True)
    state = models.CharField(max_length=24, choices=SampleState.choices, default=SampleState.ARRIVED)
    hold_reason = models.CharField(max_length=300, blank=True)
    hold_waits_for = models.CharField(max_length=24, blank=True, help_text="Whose move it is.")

    objects = SampleQuerySet.as_manager()

    class Meta:
        ordering = ["job", "line"]
        constraints = [
            models.UniqueConstraint(fields=["job", "line"], name="one_sample_per_line"),
            models.UniqueConstraint(
                "job",
                Lower("client_label"),
                condition=Q(same_label_confirmed=False),
                name="equal_labels_are_confirmed",
            ),
            models.CheckConstraint(condition=~Q(client_label=""), name="sample_has_a_label"),
            models.CheckConstraint(condition=~Q(origin_country=""), name="origin_is_known"),
            models.CheckConstraint(
                condition=(Q(state=SampleState.ON_HOLD) & ~Q(hold_reason="") & ~Q(hold_waits_for=""))
                | (~Q(state=SampleState.ON_HOLD) & Q(hold_reason="", hold_waits_for="")),
                name="a_hold_says_why_and_whose_move",
            ),
            models.CheckConstraint(
                condition=Q(received_mass_g__isnull=True) | Q(received_mass_g__gt=0),
                name="received_mass_positive",
            ),
        ]
        triggers = [allowed_moves(MOVES), never_deleted()]

    def __str__(self) -> str:
        return f"sample {self.lab_number}"

    @classmethod
    def receive(cls, job: Job, *, by: Person, at: datetime, **fields: Any) -> Sample:
        """Book one bag; soil from a regulated origin is held at once, whoever booked it."""
        day = timezone.localdate(at)
        if fields.get("sampled_on") and fields["sampled_on"] > day:
            raise NotPossible(
                f"Line {fields['line']}: sampled on {fields['sampled_on']}, which is after receipt on {day}."
            )
        sample = cls.objects.create(
            job=job, lab_number=f"{day:%y}-{NumberSeries.take('sample', day.year):05d}", **fields
        )
        rule = sample.regulated_by()
        if rule is not None:
            sample.hold(
                reason=f"Regulated origin ({rule}): {rule.rule}. Keep sealed until the permit is on record.",
                waits_for="laboratory manager",
                by=by,
                at=at,
            )
        return sample

    def regulated_by(self) -> RegulatedArea | None:
        """The regulated area that covers this origin; without a region, any of its country."""
        return RegulatedArea.covering(Value(self.origin_country), Value(self.origin_region)).first()

    def transition(self, to: str, *, by: Person, at: datetime, reason: str = "", **also: Any) -> None:
        """The only way a sample changes state."""
        change_state(self, to, by=by, at=at, reason=reason, **also)

    def hold(self, *, reason: str, waits_for: str, by: Person, at: datetime) -> None:
        """Put the bag on hold, with why and whose move it is."""
        if not reason or not waits_for:
            raise NotPossible("A hold says why, and whose move it is.")
        self.transition(
            SampleState.ON_HOLD, by=by, at=at, reason=reason, hold_reason=reason, hold_waits_for=waits_for
        )

    def accept(self, *, by: Person, at: datetime, reason: str = "") -> None:
        """
        Let the bag go on to preparation.

        Regulated soil is not accepted: this installation holds no permit register, so
        the bag stays sealed and on hold.
        """
        rule = self.regulated_by()
        if rule is not None:
            raise NotPossible(
                f"{self} comes from a regulated origin ({rule}) and no permit is on record. It stays on hold, sealed."
            )
        if self.state == SampleState.ON_HOLD and not reason:
            raise NotPossible(f"{self} is on hold (“{self.hold_reason}”). Say how that was answered.")
        self.transition(SampleState.ACCEPTED, by=by, at=at, reason=reason, hold_reason="", hold_waits_for="")

    def refuse(self, *, by: Person, at: datetime, reason: str) -> None:
        """Refuse the bag, with why and what becomes of it."""
        if not reason:
            raise NotPossible("Say why the bag is refused, and what becomes of it.")
        self.transition(SampleState.REFUSED, by=by, at=at, reason=reason, hold_reason="", hold_waits_for="")

    @transaction.atomic
    def prepare(self, *, by: Person, at: datetime, **recorded: Any) -> Any:
        """Record drying and the 2 mm sieve; the gravel mass must be given, zero included."""
        if self.regulated_by() is not None:
            raise NotPossible(f"{self} comes from a regulated origin and must not be opened here.")
        self.state = self.lock().state
        if self.state != SampleState.ACCEPTED:
            raise WrongState(
                f"{self} is “{self.state}”; a sample is dried and sieved while it is “accepted”."
            )
        preparation = self.preparations.create(**done(by, at), **recorded)
        self.transition(SampleState.PREPARED, by=by, at=at)
        return preparation

    def analyse_again(self, *, by: Person, at: datetime, reason: str) -> None:
        """
        Have a new portion analysed after approval, because of a complaint or a fault; its result is the one reported.

        That rule stands before the new result is seen. What was reported stays on its certificate until that
        is replaced or withdrawn.
        """
        if not reason.strip():
            raise NotPossible("Say why it is analysed again; the new certificate prints it.")
        if self.state not in (SampleState.APPROVED, SampleState.REPORTED):
            raise WrongState(f"{self} is “{self.state}”; only an approved or reported one is analysed again.")
        self.transition(SampleState.PREPARED, by=by, at=at, reason=f"Analysed again: {reason.strip()}")

    def lock(self) -> Sample:
        """This sample read anew and locked until the transaction ends."""
        return Sample.objects.select_for_update(no_key=True).get(pk=self.pk)

    @property
    def why_not_corrected(self) -> str:
        """The reason why no record of the preparation may be superseded now, and what to do; '' when one may."""
        if self.state in OPEN_FOR_CORRECTION:
            return ""
        instead = _INSTEAD_OF_CORRECTING.get(SampleState(self.state), "There is nothing to correct.")
        return f"{self} is “{self.state}”; its preparation and pretreatment are not corrected now. {instead}"

    def require_open_for_correction(self) -> None:
        """Refuse when preparation and pretreatment are not corrected any more."""
        if self.why_not_corrected:
            raise WrongState(self.why_not_corrected)

    @property
    def preparation(self) -> Any:
        """The newest preparation; None before the first."""
        return self.preparations.order_by("-pk").first()

    @property
    def portion(self) -> Any:
        """The portion that counts: the latest, never a duplicate; None before the first."""
        return self.portions.filter(duplicate_of__isnull=True).order_by("-attempt").first()

    @property
    def pretreatment(self) -> Any:
        """The newest decision on pretreatment; None before the first."""
        return self.pretreatment_decisions.order_by("-pk").first()


@audited
class SampleMove(Move):
    """One change of a sample's state."""

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="moves")

    class Meta(Move.Meta):
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.sample}: {self.from_state} to {self.to_state}"
