"""Reference soils: bulk soils of the laboratory's own, of which a portion runs in each batch."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models, transaction
from django.db.models import Q

from particles.receiving.models import Sample, SampleState
from particles.records.act import Act, ReasonedAct, done
from particles.records.history import audited, never_changed
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


class SoilKind(models.TextChoices):
    """The kinds of reference soil; a laboratory best keeps one of each."""

    SANDY = "sandy"
    CLAYEY = "clayey"


@audited
class ReferenceSoil(Act):
    """
    One container of a soil whose figures are known from runs on many days.

    It is a sample like any other up to its preparation and stays “prepared” from then on: its portions stand in
    batches, are weighed and read like others, and are never reported.
    """

    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=8, choices=SoilKind.choices)
    sample = models.OneToOneField(Sample, on_delete=models.PROTECT, related_name="reference_soil")
    container = models.CharField(max_length=120, help_text="Where it is kept, and how much there was.")

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="a_reference_soil_has_a_name")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"reference soil {self.name}"

    @classmethod
    @transaction.atomic
    def enter(cls, sample: Sample, *, by: Person, at: datetime, **fields: Any) -> ReferenceSoil:
        """Make a prepared bag of the laboratory's own the container of a reference soil."""
        sample = sample.lock()
        if cls.objects.filter(sample=sample).exists():
            raise AlreadyThere(f"{sample} is a reference soil already.")
        if sample.state != SampleState.PREPARED:
            raise WrongState(
                f"{sample} is “{sample.state}”; a reference soil is dried, sieved and not yet opened for a portion."
            )
        if sample.pretreatment is None:
            raise NotPossible(
                f"Decide the pretreatment of {sample} first; every portion of it rests on that."
            )
        if sample.portions.exists():
            raise NotPossible(f"{sample} has a portion already; log a bag for the reference soil alone.")
        if sample.job.samples.count() > 1:
            raise NotPossible(
                f"{sample.job} holds other bags too; log the reference soil in a job of its own."
            )
        if sample.job.client.people.exists():
            raise NotPossible(
                f"Log-ins of {sample.job.client} see {sample.job}; a reference soil is the laboratory's own. "
                "Log it for the laboratory itself."
            )
        return cls.objects.create(sample=sample, **fields, **done(by, at))

    @classmethod
    def in_use(cls) -> models.QuerySet[ReferenceSoil]:
        """Reference soils that are not used up, in the order in which they were entered."""
        return cls.objects.filter(used_up__isnull=True).select_related("sample__job")


@audited
class ReferenceSoilUsedUp(ReasonedAct):
    """The end of a reference soil: no portion of it is placed any more. What it showed stays on its charts."""

    soil = models.OneToOneField(ReferenceSoil, on_delete=models.PROTECT, related_name="used_up")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "reference soils used up"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="an_end_says_why")]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.soil}, used up"
