"""Weighings and sieve masses of a portion."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from batches.equipment.models import Balance
from batches.planning.models import CLOSED, BatchState, Run, batch_open_for
from particles.distribution import MASS_POSSIBLE_G, InputUncertainties, sieve_balance_g
from particles.models import Portion
from particles.records.history import audited, never_changed
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


def batch_open_for_weighings() -> pgtrigger.Trigger:
    """For rows about a portion."""
    return batch_open_for("weighings", joined="u.portion_id = NEW.portion_id")


def still_in_plan() -> pgtrigger.Trigger:
    """No mass of a duplicate that was taken out because it cannot be weighed."""
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
                RAISE EXCEPTION 'the duplicate was taken out of its batch' USING ERRCODE = 'check_violation';
            END IF;
            RETURN NEW;
            """
        ),
    )


class Purpose(models.TextChoices):
    PORTION = "portion", "air-dry portion"
    TIN = "tin", "moisture tin, empty"
    TIN_AIR_DRY = "tin air-dry", "tin with air-dry soil"
    TIN_OVEN_DRY = "tin oven-dry", "tin with oven-dry soil"
    PRETREATED = "pretreated", "oven-dry portion after pretreatment"
    WASHED_SAND = "washed sand", "dry sand on the stack"
    PAN = "pan", "pan under the stack"


CLOSED_FOR_MASSES = (*CLOSED, BatchState.SUBMITTED)
BALANCE_TOLERANCE_G = Decimal("0.1")
"""*Common practice*: 0.1 g, or 0.2 % of what was put on the stack."""
SMALLEST_PORTION_G, LARGEST_PORTION_G = MASS_POSSIBLE_G.exact
"""Beyond, nothing can be computed."""


@audited
class Weighing(models.Model):
    """One mass read on one balance; a correction is a new row with its reason, the newest counts."""

    portion = models.ForeignKey(Portion, on_delete=models.PROTECT, related_name="weighings")
    purpose = models.CharField(max_length=16, choices=Purpose.choices)
    attempt = models.PositiveSmallIntegerField(default=1)
    mass_g = models.DecimalField(max_digits=9, decimal_places=4)
    balance = models.ForeignKey(Balance, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)
    entry = models.ForeignKey("batches.Entry", on_delete=models.PROTECT, related_name="weighings")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

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
        ]
        triggers = [never_changed(), batch_open_for_weighings(), still_in_plan()]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} of {self.portion}"

    @classmethod
    def record(
        cls,
        portion: Portion,
        masses_g: dict[Purpose, Decimal],
        *,
        balance: Balance,
        entry: Any,
        by: Any,
        at: datetime,
        reason: str = "",
    ) -> None:
        """Store the masses of one entry, or say why they cannot be true together with those known."""
        lock_open(portion)
        balance.require_usable(timezone.localdate(at))
        known = cls.masses_g(portion)
        known.update({str(purpose): mass_g for purpose, mass_g in masses_g.items()})
        _require_possible(known, masses_g)
        for purpose, mass_g in masses_g.items():
            earlier = cls.objects.filter(portion=portion, purpose=purpose).order_by("-attempt").first()
            if earlier is not None and not reason:
                raise AlreadyThere(
                    f"{portion} has this weighing already: {earlier.mass_g.normalize():f} g by {earlier.by}. "
                    "To correct it, say why; both stay on record."
                )
            cls.objects.create(
                portion=portion,
                purpose=purpose,
                mass_g=mass_g,
                balance=balance,
                attempt=earlier.attempt + 1 if earlier else 1,
                reason=reason,
                entry=entry,
                by=by,
                at=at,
            )

    @classmethod
    def masses_g(cls, portion: Portion) -> dict[str, Decimal]:
        """The mass that counts for each purpose. [g]"""
        return {w.purpose: w.mass_g for w in cls.objects.filter(portion=portion).order_by("attempt")}


def lock_open(portion: Portion, *, nothing: str = "no mass is added to it") -> None:
    """Lock the portion and the batch it stands in; refuse when that batch takes nothing more."""
    run = Run.objects.filter(portion=portion).select_related("batch").first()
    if run is not None:
        batch = run.batch.lock()
        out = Run.objects.filter(pk=run.pk, taken_out__isnull=False).select_related("taken_out__by").first()
        if out is not None:
            raise WrongState(
                f"{portion} was taken out of {batch} by {out.taken_out.by}: {out.taken_out.reason}"
            )
        if batch.state in CLOSED_FOR_MASSES:
            raise WrongState(f"{portion} stands in {batch}, which is “{batch.state}”; {nothing} now.")
    Portion.objects.select_for_update(no_key=True).get(pk=portion.pk)


def _require_possible_stack(known: Mapping[str, Decimal], retained_g: Mapping[int, Decimal]) -> None:
    """The washed sand cannot outweigh its portion, nor the sieves and the pan what was put on them."""
    portion_g, washed_g, pan_g = (known.get(p) for p in (Purpose.PORTION, Purpose.WASHED_SAND, Purpose.PAN))
    if portion_g is not None and washed_g is not None and washed_g > portion_g + BALANCE_TOLERANCE_G:
        raise NotPossible(
            f"The dry sand weighs {washed_g:.2f} g, more than its portion of {portion_g:.2f} g. "
            "Was the tare taken off, is it dry, is it this portion's?"
        )
    total_g = sum(retained_g.values(), start=pan_g or Decimal(0))
    if washed_g is None:
        return
    allowed_g = sieve_balance_g(float(washed_g), len(retained_g), InputUncertainties().sieve_mass_g)
    if float(total_g - washed_g) > allowed_g + 1e-9:
        raise NotPossible(
            f"Sieves and pan hold {total_g:.2f} g, more than the {washed_g:.2f} g put on the stack. "
            "Weigh them again."
        )


def _require_possible(known: Mapping[str, Decimal], typed: Mapping[Purpose, Decimal]) -> None:
    for purpose in (Purpose.PORTION, Purpose.PRETREATED):
        if purpose in typed:
            _require_possible_portion(str(purpose.label), typed[purpose])
    tin, wet, dry = (known.get(p) for p in (Purpose.TIN, Purpose.TIN_AIR_DRY, Purpose.TIN_OVEN_DRY))
    if wet is not None and dry is not None and dry > wet:
        raise NotPossible(
            f"The tin weighs more dry ({dry:.2f} g) than air-dry ({wet:.2f} g). Was it cooled, is it the same tin?"
        )
    for full in (wet, dry):
        if tin is not None and full is not None and full <= tin:
            raise NotPossible(f"The filled tin ({full} g) weighs no more than the empty one ({tin} g).")


def _require_possible_portion(what: str, mass_g: Decimal) -> None:
    if SMALLEST_PORTION_G <= mass_g <= LARGEST_PORTION_G:
        return
    outside = f"{mass_g:f} g lies outside {SMALLEST_PORTION_G} to {LARGEST_PORTION_G} g for the {what}."
    other = mass_g / 1000 if mass_g > LARGEST_PORTION_G else mass_g * 1000
    if SMALLEST_PORTION_G <= other <= LARGEST_PORTION_G:
        raise NotPossible(
            f"{outside} If the balance showed another unit, it may be {other.normalize():f} g: "
            "weigh and type it again."
        )
    if mass_g > LARGEST_PORTION_G:
        raise NotPossible(
            f"{outside} Was the tare taken off? Take off the beaker's mass and type the soil's."
        )
    raise NotPossible(f"{outside} Look for a slipped decimal point; weigh and type it again.")


@audited
class SieveMass(models.Model):
    """What stayed on one sieve. [g]"""

    portion = models.ForeignKey(Portion, on_delete=models.PROTECT, related_name="sieve_masses")
    opening_um = models.DecimalField(max_digits=7, decimal_places=1)
    attempt = models.PositiveSmallIntegerField(default=1)
    retained_g = models.DecimalField(max_digits=9, decimal_places=4)
    reason = models.CharField(max_length=300, blank=True)
    balance = models.ForeignKey(Balance, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey("batches.Entry", on_delete=models.PROTECT, related_name="sieve_masses")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

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

    @classmethod
    def record_stack(
        cls,
        retained_g: dict[int, Decimal],
        *,
        portion: Portion,
        balance: Balance,
        entry: Any,
        by: Any,
        at: datetime,
        reason: str = "",
    ) -> None:
        """Store what stayed on every sieve of one stack, opening [µm] to mass [g]."""
        lock_open(portion)
        _require_possible_stack(Weighing.masses_g(portion), retained_g)
        earlier = cls.objects.filter(portion=portion).aggregate(last=models.Max("attempt"))["last"] or 0
        if earlier and not reason:
            raise AlreadyThere(
                "This portion is sieved already. To sieve it again, say why; both stay on record."
            )
        SieveMass.objects.bulk_create(
            SieveMass(
                portion=portion,
                opening_um=opening_um,
                attempt=earlier + 1,
                retained_g=mass_g,
                reason=reason,
                balance=balance,
                entry=entry,
                by=by,
                at=at,
            )
            for opening_um, mass_g in retained_g.items()
        )
