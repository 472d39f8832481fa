"""Weighings and sieve masses of a portion."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

import pgtrigger
from django.db import models
from django.db.models import Q

from batches.equipment.models import Balance
from batches.planning.models import CLOSED, UNDER_REVIEW, batch_open_for
from particles.distribution import MASS_POSSIBLE_G
from particles.distribution.causes.singles import ASKED_WITHIN_G, ASKED_WITHIN_PCT
from particles.models import Portion
from particles.records.act import Act
from particles.records.history import audited, never_changed


def batch_open_for_weighings() -> pgtrigger.Trigger:
    """The database takes no weighing or sieve mass of a portion whose batch is handed over or closed."""
    return batch_open_for("weighings", joined="u.portion_id = NEW.portion_id")


def still_in_plan() -> pgtrigger.Trigger:
    """The database takes no mass of a duplicate that was taken out because it cannot be weighed."""
    return pgtrigger.Trigger(
        name="still_in_plan",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        func=pgtrigger.Func(
            """
            IF EXISTS (
                SELECT 1 FROM batches_run u JOIN batches_takenout t ON t.run_id = u.id
                 WHERE u.portion_id = NEW.portion_id
            ) THEN
                RAISE EXCEPTION 'the portion was taken out of its batch' USING ERRCODE = 'check_violation';
            END IF;
            RETURN NEW;
            """
        ),
    )


class Purpose(models.TextChoices):
    """The thing a weighing weighs."""

    PORTION = "portion", "air-dry portion"
    TIN = "tin", "moisture tin, empty"
    TIN_AIR_DRY = "tin air-dry", "tin with air-dry soil"
    TIN_OVEN_DRY = "tin oven-dry", "tin with oven-dry soil"
    PRETREATED = "pretreated", "oven-dry portion after pretreatment"
    WASHED_SAND = "washed sand", "dry sand on the stack"
    PAN = "pan", "pan under the stack"


CLOSED_FOR_MASSES = (*CLOSED, *UNDER_REVIEW)
AIM_WITHIN_SHARE = Decimal(str(ASKED_WITHIN_PCT)) / 100
"""A portion within this of its aim is not asked about, as in the review. [of the aim]"""
AIM_WITHIN_G = Decimal(str(ASKED_WITHIN_G))
"""The same for small portions. [g]"""
BALANCE_TOLERANCE_G = Decimal("0.1")
"""*Common practice*: 0.1 g, or 0.2 % of what was put on the stack."""
SMALLEST_PORTION_G, LARGEST_PORTION_G = MASS_POSSIBLE_G.exact
"""Beyond, nothing can be computed."""


@audited
class Weighing(Act):
    """One mass read on one balance; a correction is a new row with its reason, the newest counts."""

    batch_path = "portion__run__batch"

    portion = models.ForeignKey(Portion, on_delete=models.PROTECT, related_name="weighings")
    purpose = models.CharField(max_length=16, choices=Purpose.choices)
    attempt = models.PositiveSmallIntegerField(default=1)
    mass_g = models.DecimalField(max_digits=9, decimal_places=4)
    aimed_g = models.DecimalField(max_digits=9, decimal_places=4, null=True, blank=True)
    """Mass that whoever weighed a portion wanted to reach; None where it was not said. [g]"""
    balance = models.ForeignKey(Balance, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)
    entry = models.ForeignKey("batches.Entry", on_delete=models.PROTECT, related_name="weighings")

    class Meta:
        ordering = ["portion", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["portion", "purpose", "attempt"], name="one_weighing_per_attempt"
            ),
            models.CheckConstraint(condition=Q(mass_g__gte=0), name="mass_not_negative"),
            models.CheckConstraint(condition=Q(attempt=1) | ~Q(reason=""), name="a_new_weighing_says_why"),
            models.CheckConstraint(
                condition=~Q(purpose="portion")
                | Q(mass_g__gte=SMALLEST_PORTION_G, mass_g__lte=LARGEST_PORTION_G),
                name="portion_mass_possible",
            ),
            models.CheckConstraint(
                condition=Q(aimed_g__isnull=True) | Q(purpose="portion", aimed_g__gt=0),
                name="a_portion_is_aimed_at",
            ),
        ]
        triggers = [never_changed(), batch_open_for_weighings(), still_in_plan()]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} of {self.portion}"

    @classmethod
    def aims_g(cls, portions: Iterable[Portion]) -> dict[int, float]:
        """The mass that each portion was last aimed at, by its key; those without are left out. [g]"""
        aimed = cls.objects.filter(portion__in=portions, aimed_g__isnull=False).order_by("attempt")
        return {key: float(mass_g) for key, mass_g in aimed.values_list("portion_id", "aimed_g")}

    @classmethod
    def masses_g(cls, portion: Portion) -> dict[str, Decimal]:
        """The mass that counts for each purpose. [g]"""
        return {w.purpose: w.mass_g for w in cls.objects.filter(portion=portion).order_by("attempt")}


@audited
class SieveMass(Act):
    """The mass that stayed on one sieve. [g]"""

    batch_path = "portion__run__batch"

    portion = models.ForeignKey(Portion, on_delete=models.PROTECT, related_name="sieve_masses")
    opening_um = models.DecimalField(max_digits=7, decimal_places=1)
    attempt = models.PositiveSmallIntegerField(default=1)
    retained_g = models.DecimalField(max_digits=9, decimal_places=4)
    reason = models.CharField(max_length=300, blank=True)
    balance = models.ForeignKey(Balance, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey("batches.Entry", on_delete=models.PROTECT, related_name="sieve_masses")

    class Meta:
        ordering = ["portion", "-opening_um", "attempt"]
        verbose_name_plural = "sieve masses"
        constraints = [
            models.UniqueConstraint(
                fields=["portion", "opening_um", "attempt"], name="one_sieve_mass_per_attempt"
            ),
            models.CheckConstraint(condition=Q(retained_g__gte=0), name="sieve_mass_not_negative"),
            models.CheckConstraint(condition=Q(opening_um__gt=0), name="opening_positive"),
            models.CheckConstraint(condition=Q(attempt=1) | ~Q(reason=""), name="a_new_sieving_says_why"),
        ]
        triggers = [never_changed(), batch_open_for_weighings(), still_in_plan()]

    def __str__(self) -> str:
        return f"{self.opening_um} µm of {self.portion}"
