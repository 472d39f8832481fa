"""Rules for weighing and sieving a portion: when it may be done, and which masses contradict each other."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils import timezone
from django.utils.text import capfirst

from batches.balance.models import (
    AIM_WITHIN_G,
    AIM_WITHIN_SHARE,
    BALANCE_TOLERANCE_G,
    CLOSED_FOR_MASSES,
    LARGEST_PORTION_G,
    SMALLEST_PORTION_G,
    Purpose,
    SieveMass,
    Weighing,
)
from batches.balance.ready import why_not_sieved
from batches.equipment.models import Balance
from batches.planning.models import Batch, Run, TakenOut
from particles.distribution import sieve_balance_g
from particles.models import Portion
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, WrongState


def record_weighings(
    portion: Portion,
    masses_g: dict[Purpose, Decimal],
    *,
    balance: Balance,
    entry: Any,
    by: Person,
    at: datetime,
    reason: str = "",
    aimed_g: Decimal | None = None,
) -> None:
    """
    Store the masses of one entry, or say why they cannot be true together with those known.

    Parameters
    ----------
    aimed_g : mass that the portion was to have; kept beside its own. [g]
    """
    lock_open(portion)
    balance.require_usable(timezone.localdate(at))
    known = Weighing.masses_g(portion)
    known.update({str(purpose): mass_g for purpose, mass_g in masses_g.items()})
    _require_possible(known, masses_g)
    for purpose, mass_g in masses_g.items():
        earlier = Weighing.objects.filter(portion=portion, purpose=purpose).order_by("-attempt").first()
        if earlier is not None and not reason:
            raise AlreadyThere(
                f"{capfirst(portion.beaker)} has this weighing already: {earlier.mass_g.normalize():f} g. "
                "To correct it, say why; both stay on record."
            )
        Weighing.objects.create(
            portion=portion,
            purpose=purpose,
            mass_g=mass_g,
            aimed_g=aimed_g if purpose is Purpose.PORTION else None,
            balance=balance,
            attempt=earlier.attempt + 1 if earlier else 1,
            reason=reason,
            entry=entry,
            **done(by, at),
        )


def record_sieving(
    portion: Portion,
    ends_g: dict[Purpose, Decimal],
    retained_g: dict[int, Decimal],
    *,
    balance: Balance,
    entry: Any,
    by: Person,
    at: datetime,
    reason: str = "",
) -> None:
    """
    Store one sieving, or say why it cannot be true or is not its turn yet.

    Parameters
    ----------
    ends_g : what went on the stack and what the pan holds. [g]
    retained_g : what stayed on every sieve, opening [µm] to mass. [g]
    """
    lock_open(portion)
    why = why_not_sieved(portion, at)
    if why:
        raise WrongState(why)
    shared: dict[str, Any] = {"balance": balance, "entry": entry, "by": by, "at": at, "reason": reason}
    record_weighings(portion, ends_g, **shared)
    _record_stack(portion, retained_g, **shared)


def _record_stack(
    portion: Portion,
    retained_g: dict[int, Decimal],
    *,
    balance: Balance,
    entry: Any,
    by: Person,
    at: datetime,
    reason: str,
) -> None:
    _require_possible_stack(portion, retained_g)
    earlier = SieveMass.objects.filter(portion=portion).aggregate(last=models.Max("attempt"))["last"] or 0
    if earlier and not reason:
        raise AlreadyThere("This portion is sieved already. To sieve it again, say why; both stay on record.")
    SieveMass.objects.bulk_create(
        SieveMass(
            portion=portion,
            opening_um=opening_um,
            attempt=earlier + 1,
            retained_g=mass_g,
            reason=reason,
            balance=balance,
            entry=entry,
            **done(by, at),
        )
        for opening_um, mass_g in retained_g.items()
    )


def lock_open(portion: Portion, *, nothing: str = "no mass is added to it") -> None:
    """Lock the portion and the batch it stands in; refuse when that batch takes nothing more."""
    run = Run.objects.filter(portion=portion).select_related("batch").first()
    if run is not None:
        why = why_closed(portion, run.batch.lock(), nothing=nothing)
        if why:
            raise WrongState(why)
    Portion.objects.select_for_update(no_key=True).get(pk=portion.pk)


def why_closed(portion: Portion, batch: Batch, *, nothing: str = "no mass is added to it") -> str:
    """What keeps a portion that stands in this batch from taking a mass; '' when nothing does."""
    out = TakenOut.objects.filter(run__portion=portion).select_related("by").first()
    if out is not None:
        return f"{capfirst(portion.beaker)} was taken out of {batch} by {out.by}: {out.reason}"
    if batch.state in CLOSED_FOR_MASSES:
        return (
            f"{capfirst(portion.beaker)} stands in {batch}, which is “{batch.state}”; {nothing} now."
            f"{batch.instead_of_changing}"
        )
    return ""


def is_off_aim(mass_g: Decimal, aimed_g: Decimal) -> bool:
    """Whether a portion lies so far from what was aimed at that it may be a slip of the pen."""
    return abs(mass_g - aimed_g) > max(AIM_WITHIN_SHARE * aimed_g, AIM_WITHIN_G)


def _require_possible_stack(portion: Portion, retained_g: Mapping[int, Decimal]) -> None:
    """The washed sand cannot outweigh its portion, nor the sieves and the pan what was put on them."""
    known, method = Weighing.masses_g(portion), portion.sample.job.method.edition
    portion_g, washed_g, pan_g = (known.get(p) for p in (Purpose.PORTION, Purpose.WASHED_SAND, Purpose.PAN))
    if portion_g is not None and washed_g is not None and washed_g > portion_g + BALANCE_TOLERANCE_G:
        raise NotPossible(
            f"The dry sand weighs {washed_g:.2f} g, more than its portion of {portion_g:.2f} g. "
            "Was the tare taken off, is it dry, is it this portion's?"
        )
    total_g = sum(retained_g.values(), start=pan_g or Decimal(0))
    if washed_g is None:
        return
    allowed_g = sieve_balance_g(
        float(washed_g), len(retained_g), method.uncertainties.sieve_mass_g, method.limits
    )
    if float(total_g - washed_g) > allowed_g + 1e-9:
        raise NotPossible(
            f"Sieves and pan hold {total_g:.2f} g, {total_g - washed_g:.2f} g more than the {washed_g:.2f} g put on "
            f"the stack; “{method.title}” allows {allowed_g:.2f} g. Look for a tare, wet sand or another sample, and "
            "weigh them again."
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
