"""Rules for planning and soaking a batch: its duplicates, which samples get one, and what the soak binds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from decimal import Decimal
from math import ceil
from typing import Any

from django.db import transaction
from django.utils import timezone

from batches.balance.models import Purpose
from batches.equipment.models import Cylinder
from batches.planning.models import Batch, BatchState, Run
from batches.planning.places import checksum, second_places
from batches.planning.volumes import mixed_volumes, refuse_volumes_far_apart
from batches.quality.own_figure import own_spread
from batches.quality.pairs import Pair
from particles.distribution.possible import MOST_CYLINDERS
from particles.models import Laboratory, MethodEditionRecord, Portion
from particles.records.person import Person
from particles.records.refusals import NotPossible, WrongState

SAMPLES_PER_DUPLICATE = 10
"""*Common practice*: one duplicate for ten samples begun, at least one in a batch."""
BY_RULE = "duplicate by the laboratory's rule"
TIN_G = Decimal(10)
"""Soil a second moisture tin takes, about. [g]"""


def samples_per_duplicate() -> int:
    """Samples for each of which the laboratory runs one duplicate; 0 when it runs none."""
    laboratory = Laboratory.objects.first()
    rate = None if laboratory is None else laboratory.samples_per_duplicate
    return SAMPLES_PER_DUPLICATE if rate is None else rate


def duplicates_due(samples: int, method: MethodEditionRecord) -> int:
    """Number of duplicates that a batch of so many samples holds; none where figures at size limits do not exist."""
    return duplicates_due_by(method)(samples)


def duplicates_due_by(method: MethodEditionRecord) -> Callable[[int], int]:
    """A function from samples to duplicates due by one method, which asks for the laboratory's rate only once."""
    rate = samples_per_duplicate() if method.edition.certifiable else 0
    return lambda samples: ceil(samples / rate) if rate else 0


@transaction.atomic
def plan_batch(
    *, portions: list[Portion], cylinders: list[Cylinder], by: Person, at: datetime, **made_with: Any
) -> Batch:
    """
    Plan a batch with the duplicates the laboratory's rule asks for, at places that the program draws.

    `cylinders` stand in a row: the blank's, then one for each portion and each duplicate.
    """
    due = duplicates_due(len(portions), made_with["method"])
    refuse_volumes_far_apart(cylinders)
    # All of them in one order: two people who plan at once wait for each other, and for nothing else.
    list(
        Cylinder.objects.filter(pk__in=[c.pk for c in cylinders])
        .select_for_update(no_key=True)
        .order_by("pk")
    )
    batch = Batch.plan(portions=portions, cylinders=cylinders, second_portions=due, by=by, at=at, **made_with)
    for place in second_places(batch.number, len(portions) + due, due):
        if candidates(batch):
            _add(batch, cylinders[place], position=place, reason=BY_RULE, by=by, at=at)
    return batch


def unweighed_duplicates(batch: Batch) -> list[Portion]:
    """Duplicates of a batch that hold no mass yet."""
    duplicates = batch.sample_runs.filter(portion__duplicate_of__isnull=False)
    runs = duplicates.exclude(portion__weighings__purpose=Purpose.PORTION)
    return [run.portion for run in runs if run.portion is not None]


def start_soak(batch: Batch, *, by: Person, at: datetime) -> None:
    """Record the soak: dispersant in every beaker and the blank; the laboratory's own between-run figure is bound."""
    batch.lot.require_usable(timezone.localdate(at))
    waiting = ", ".join(str(portion) for portion in unweighed_duplicates(batch))
    if waiting:
        raise NotPossible(
            f"Not weighed yet: {waiting}. Weigh it, then start the soak; or say that it cannot be weighed."
        )
    spread = own_spread(batch.method, at=at)
    bound: dict[str, Any] = (
        {} if spread is None else {"between_run_sd_pct": spread.sd_pct, "between_run_pairs": spread.pairs}
    )
    batch.transition(BatchState.SOAKING, by=by, at=at, soak_started_at=at, **bound)


def next_step(batch: Batch) -> str:
    """The next step of whoever planned the batch, as sentences."""
    chosen = ", ".join(portion.number for portion in unweighed_duplicates(batch))
    weigh = f"Weigh {chosen} next, one more portion each, chosen by the program. Then add the dispersant."
    steps = (weigh if chosen else "Add the dispersant next.", mixed_volumes(batch))
    return " ".join(step for step in steps if step)


@transaction.atomic
def add_duplicate(batch: Batch, *, cylinder: Cylinder, reason: str, by: Person, at: datetime) -> Run:
    """Add one duplicate more than the rule asks for, with a reason; the program chooses its sample too."""
    batch = batch.lock()
    if batch.state != BatchState.PLANNED:
        raise WrongState(f"{batch} is “{batch.state}”; portions are added before the soak.")
    if not reason.strip():
        raise NotPossible("Say why one more portion is run.")
    if not candidates(batch):
        raise NotPossible(f"No sample of {batch} has soil for one more portion.")
    last = batch.runs.order_by("position").last()
    position = 0 if last is None else last.position + 1
    return _add(batch, cylinder, position=position, reason=reason, by=by, at=at)


def _add(batch: Batch, cylinder: Cylinder, *, position: int, reason: str, by: Person, at: datetime) -> Run:
    cylinder.require_usable(timezone.localdate(at))
    list(Cylinder.objects.filter(pk=cylinder.pk).select_for_update(no_key=True))
    if not Cylinder.objects.free().filter(pk=cylinder.pk).exists():
        raise NotPossible(f"Still in use: cylinder {cylinder.serial}. Choose another.")
    if batch.runs.filter(cylinder=cylinder).exists():
        raise NotPossible(
            f"Cylinder {cylinder.serial} was planned in {batch} for the portion taken out. Choose another."
        )
    if batch.runs.in_plan().count() >= MOST_CYLINDERS:
        raise NotPossible(
            f"A batch holds {MOST_CYLINDERS} cylinders at most; leave a sample to the next batch."
        )
    portion = Portion.take_duplicate(candidates(batch)[0], by=by, at=at, reason=reason)
    return batch.runs.create(cylinder=cylinder, position=position, portion=portion)


def candidates(batch: Batch) -> list[Portion]:
    """
    First portions of the batch that can get a duplicate, the next one first.

    Their order is that of a checksum of batch and sample number: nobody picks a favourite, and anybody can
    work it out again.
    """
    runs = batch.reported_runs.prefetch_related(
        "portion__weighings", "portion__sample__preparations", "portion__sample__portions__weighings"
    )
    first: list[Portion] = [run.portion for run in runs if run.portion is not None]
    doubled = set(Portion.objects.filter(duplicate_of__in=first).values_list("duplicate_of", flat=True))
    free = [portion for portion in first if portion.pk not in doubled and _has_soil(portion)]
    return sorted(free, key=lambda portion: _place(batch.number, portion.sample.lab_number))


def _place(batch_number: str, lab_number: str) -> str:
    return checksum(batch_number, lab_number)


def _has_soil(portion: Portion) -> bool:
    """Whether the bag still holds as much fine earth again, with its moisture tin, after every portion so far."""
    preparation = max(portion.sample.preparations.all(), key=lambda each: each.pk, default=None)
    if preparation is None:
        return False
    taken_g = sum(map(_taken_g, portion.sample.portions.all()), start=Decimal(0))
    return bool(preparation.fine_earth_g >= taken_g + _taken_g(portion))


def _taken_g(portion: Portion) -> Decimal:
    """Approximate mass a portion and its moisture tin took out of the bag; the newest weighing counts. [g]"""
    weighed = [w for w in portion.weighings.all() if w.purpose == Purpose.PORTION]
    return TIN_G + max(weighed, key=lambda w: w.attempt).mass_g if weighed else Decimal(0)


def methods_with_duplicates() -> list[MethodEditionRecord]:
    """The latest edition of each method that has run duplicates; its pairs are those of all its editions."""
    run = MethodEditionRecord.objects.filter(
        pk__in=Batch.objects.filter(runs__portion__duplicate_of__isnull=False).values("method")
    )
    latest = {min(method.family()): method for method in run.order_by("entered_at", "code")}
    return sorted(latest.values(), key=lambda method: method.title)


def too_few(batch: Batch, pairs: Sequence[Pair], *, samples: int) -> str:
    """A sentence for the reviewer of a batch with fewer duplicates than today's rule asks for; '' otherwise."""
    due = duplicates_due(samples, batch.method)
    if len(pairs) >= due:
        return ""
    out = len(batch.taken_out)
    why = (
        f"{out} could not be weighed and was taken out: see below by whom and why."
        if out
        else "No sample had soil for a second portion, or the rule is younger than the batch."
    )
    return f"The batch holds {len(pairs)} duplicate(s); the laboratory's rule asks for {due}. {why}"
