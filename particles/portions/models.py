"""Portions taken out of a sample."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pgtrigger
from django.db import models, transaction
from django.db.models import Q

from particles.distribution.possible import PARTICLE_DENSITY_POSSIBLE_G_CM3
from particles.portions.code import code_of, draw_code, row_of
from particles.portions.density import ParticleDensity, require_believed
from particles.preparation.models import PretreatmentDecision
from particles.receiving.models import Sample, SampleState
from particles.records.act import Act
from particles.records.history import audited, never_changed
from particles.records.person import Person
from particles.records.refusals import NotPossible, WrongState
from particles.reference_soils.models import ReferenceSoil

LIGHTEST, HEAVIEST = PARTICLE_DENSITY_POSSIBLE_G_CM3.ends


def _plain(value: Decimal | str) -> str:
    return value if isinstance(value, str) else f"{value.normalize():f}"


@audited
class Portion(ParticleDensity, Act):
    """A test portion: what was weighed from the bag for one run. A repeat is a new portion, and so is a duplicate."""

    batch_path = "run__batch"

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="portions")
    attempt = models.PositiveSmallIntegerField()
    reason = models.CharField(max_length=300, blank=True, help_text="Why a repeat or a duplicate was made.")
    duplicate_of: Any = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        related_name="duplicate",
        null=True,
        blank=True,
        help_text="The first portion, which is the one reported; empty for every other portion.",
    )
    reference_soil = models.ForeignKey(
        ReferenceSoil,
        on_delete=models.PROTECT,
        related_name="portions",
        null=True,
        blank=True,
        help_text="Of which it is; empty for a client's soil.",
    )
    pretreatment = models.ForeignKey(PretreatmentDecision, on_delete=models.PROTECT, related_name="+")
    drawn_code = models.CharField(
        max_length=12,
        unique=True,
        null=True,
        blank=True,
        help_text="On its beaker; empty for portions whose code was worked out from their row.",
    )
    entry_name = models.UUIDField(
        unique=True,
        null=True,
        blank=True,
        help_text="Of the entry it was opened with: one entry is one record.",
    )

    class Meta:
        ordering = ["sample", "attempt"]
        constraints = [
            models.UniqueConstraint(
                fields=["sample", "attempt"],
                condition=Q(duplicate_of__isnull=True),
                name="one_portion_per_attempt",
            ),
            models.CheckConstraint(
                condition=Q(reference_soil__isnull=True) | Q(duplicate_of__isnull=True),
                name="a_reference_portion_is_no_duplicate",
            ),
            models.CheckConstraint(
                condition=Q(attempt=1, duplicate_of__isnull=True) | ~Q(reason=""),
                name="a_repeat_has_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(particle_density_g_cm3__gte=LIGHTEST, particle_density_g_cm3__lte=HEAVIEST),
                name="particle_density_possible",
            ),
        ]
        triggers = [
            never_changed(),
            pgtrigger.Trigger(
                name="only_from_prepared_soil",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                declare=[("present", "text")],
                func=pgtrigger.Func(
                    """
                    SELECT state INTO present FROM particles_sample WHERE id = NEW.sample_id;
                    IF NEW.duplicate_of_id IS NOT NULL THEN
                        IF present NOT IN ('waiting for batch', 'in batch') OR NOT EXISTS (
                            SELECT 1 FROM particles_portion p
                             WHERE p.id = NEW.duplicate_of_id AND p.sample_id = NEW.sample_id
                               AND p.attempt = NEW.attempt AND p.duplicate_of_id IS NULL
                        ) THEN
                            RAISE EXCEPTION 'a duplicate is a second portion of a sample that goes into a batch'
                                USING ERRCODE = 'check_violation';
                        END IF;
                    ELSIF present <> 'prepared' THEN
                        RAISE EXCEPTION 'a portion is weighed from a prepared sample, this one is %', present
                            USING ERRCODE = 'check_violation';
                    END IF;
                    RETURN NEW;
                    """
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"portion {self.number}"

    @property
    def code(self) -> str:
        """The code on the beaker; it tells neither the bag nor which portion of it is compared."""
        return self.drawn_code or code_of(self.pk)

    @property
    def beaker(self) -> str:
        """The portion in a sentence for the bench: its code alone."""
        return f"beaker {self.code}"

    @property
    def number(self) -> str:
        """Bag, attempt and code of the portion; a first portion and its duplicate are named alike."""
        return f"{self.sample.lab_number}/{self.attempt} {self.code}"

    @property
    def why_repeated(self) -> str:
        """Why the bag is analysed again; '' for a first attempt. A duplicate says it with its first portion's words."""
        return str((self.duplicate_of or self).reason)

    @classmethod
    def of_code(cls, code: str) -> models.QuerySet[Portion]:
        """The portion with this code on its beaker, as a queryset of one or none."""
        earlier = Q(pk=row_of(code) or 0, drawn_code__isnull=True)
        return cls.objects.filter(Q(drawn_code=code.strip().upper()) | earlier)

    @classmethod
    def _open(cls, **fields: Any) -> Portion:
        """Create a portion under a code of its own."""
        code = draw_code(lambda drawn: cls.of_code(drawn).exists())
        return cls.objects.create(drawn_code=code, **fields)

    @property
    def decision(self) -> PretreatmentDecision:
        """The decision the portion rests on: the one it was opened under, or what has superseded it."""
        later = {each.supersedes_id: each for each in self.sample.pretreatment_decisions.all()}
        found = self.pretreatment
        while found.pk in later:
            found = later[found.pk]
        return found

    @classmethod
    @transaction.atomic
    def take(cls, sample: Sample, *, by: Person, at: datetime, reason: str = "", **fields: Any) -> Portion:
        """Open a portion of a prepared sample; the pretreatment must have been decided before."""
        require_believed(fields)
        sample = sample.lock()
        if sample.state != SampleState.PREPARED:
            raise WrongState(f"{sample} is “{sample.state}”; a portion is weighed from a prepared sample.")
        if sample.regulated_by() is not None:
            raise NotPossible(f"{sample} comes from a regulated origin and must not be weighed here.")
        if hasattr(sample, "reference_soil"):
            raise NotPossible(
                f"{sample} is {sample.reference_soil}; the program places its portions in batches."
            )
        if sample.pretreatment is None:
            raise NotPossible(f"Decide the pretreatment of {sample} before weighing a portion.")
        attempt = sample.portions.filter(duplicate_of__isnull=True).count() + 1
        if attempt > 1 and not reason:
            raise NotPossible(f"{sample} has a portion already. Say why another one is weighed.")
        portion = cls._open(
            sample=sample,
            attempt=attempt,
            reason=reason,
            pretreatment=sample.pretreatment,
            by=by,
            at=at,
            **fields,
        )
        sample.transition(SampleState.WAITING, by=by, at=at)
        return portion

    @classmethod
    @transaction.atomic
    def take_reference(cls, soil: ReferenceSoil, *, by: Person, at: datetime, reason: str) -> Portion:
        """Open a portion of a reference soil for one batch; its container stays prepared."""
        sample = soil.sample.lock()
        latest = sample.portions.order_by("-attempt").first()
        return cls._open(
            sample=sample,
            attempt=1 if latest is None else latest.attempt + 1,
            reason=reason,
            reference_soil=soil,
            pretreatment=sample.pretreatment,
            by=by,
            at=at,
        )

    @classmethod
    @transaction.atomic
    def take_duplicate(cls, first: Portion, *, by: Person, at: datetime, reason: str) -> Portion:
        """Open a second portion of the same bag for the same batch, pretreated alike; compared, never reported."""
        sample = Sample.objects.select_for_update(no_key=True).get(pk=first.sample_id)
        if sample.state not in (SampleState.WAITING, SampleState.IN_BATCH):
            raise WrongState(f"{sample} is “{sample.state}”; a duplicate goes into the batch of its sample.")
        if first.duplicate_of_id is not None or cls.objects.filter(duplicate_of=first).exists():
            raise NotPossible(f"{first} is one of a pair already; a sample has one duplicate in a batch.")
        if not reason.strip():
            raise NotPossible("Say why the duplicate is made.")
        return cls._open(
            sample=sample,
            attempt=first.attempt,
            reason=reason,
            duplicate_of=first,
            pretreatment=first.pretreatment,
            **first.recorded_density,
            by=by,
            at=at,
        )
