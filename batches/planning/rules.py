"""Rules for planning and soaking a batch: its duplicates, which samples get one, and what the soak binds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from decimal import Decimal
from math import ceil
from random import Random
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from batches.balance.models import Purpose
from batches.equipment.models import Cylinder
from batches.limits.models import spreads_in_force
from batches.planning.models import Batch, BatchState, Run
from batches.planning.volumes import mixed_volumes, refuse_volumes_far_apart
from batches.quality.pairs import Pair
from particles.distribution.possible import MOST_CYLINDERS
from particles.distribution.spoken import spoken_count
from particles.models import Laboratory, MethodEditionRecord, Portion, ReferenceSoil, Sample
from particles.portions.code import DRAW
from particles.records.person import Person
from particles.records.refusals import NotPossible, WrongState

SAMPLES_PER_DUPLICATE = 10
"""*Common practice*: one duplicate for ten samples begun, at least one in a batch."""
BY_RULE = "duplicate by the laboratory's rule"
HEAVIEST_PORTION_G = Decimal(100)
"""Sands are weighed up to about so much; a container with less left is as good as used up. *Common practice*. [g]"""
TOO_MANY = f"A batch holds {MOST_CYLINDERS} cylinders at most; leave a sample to the next batch."
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


def more_portions_due_by(method: MethodEditionRecord) -> Callable[[int], int]:
    """A function from samples to the portions a batch holds beside theirs: duplicates, and one of a reference soil."""
    of_duplicates, soils = duplicates_due_by(method), int(next_soil(method) is not None)
    return lambda samples: of_duplicates(samples) + soils


def next_soil(method: MethodEditionRecord) -> ReferenceSoil | None:
    """
    The reference soil whose turn it is: of those in use with soil left, the one that was placed least.

    None where there is none, or where a method has no figures at size limits to compare.
    """
    if not method.edition.certifiable:
        return None
    soils = ReferenceSoil.in_use().prefetch_related("sample__preparations", "sample__portions__weighings")
    turns = [(len(soil.sample.portions.all()), soil.pk, soil) for soil in soils if _is_left(soil)]
    return min(turns)[2] if turns else None


def _is_left(soil: ReferenceSoil) -> bool:
    """Whether the container holds enough for one portion more, after every one so far."""
    return _left_g(soil.sample) >= HEAVIEST_PORTION_G + TIN_G


@transaction.atomic
def plan_batch(
    *,
    portions: list[Portion],
    cylinders: list[Cylinder],
    by: Person,
    at: datetime,
    draw: Random = DRAW,
    **made_with: Any,
) -> Batch:
    """
    Plan a batch with a reference soil and the duplicates the laboratory's rule asks for, at places the program draws.

    `cylinders` stand in a row: the blank's, then one for each portion, each duplicate and the reference soil.
    """
    due, soil = duplicates_due(len(portions), made_with["method"]), next_soil(made_with["method"])
    more = due + (soil is not None)
    refuse_volumes_far_apart(cylinders)
    # All of them in one order: two people who plan at once wait for each other, and for nothing else.
    list(
        Cylinder.objects.filter(pk__in=[c.pk for c in cylinders])
        .select_for_update(no_key=True)
        .order_by("pk")
    )

    def open_second(batch: Batch) -> list[Portion]:
        opened = []
        if soil is not None:
            opened.append(Portion.take_reference(soil, by=by, at=at, reason=f"reference soil of {batch}"))
        able = with_soil_left(portions)
        drawn = draw.sample(able, min(due, len(able)))
        opened += [Portion.take_duplicate(first, by=by, at=at, reason=BY_RULE) for first in drawn]
        if len(portions) + len(opened) + 1 > MOST_CYLINDERS:
            raise NotPossible(TOO_MANY)
        return draw.sample(opened, len(opened))

    return Batch.plan(
        portions=portions,
        cylinders=cylinders,
        second_portions=more,
        open_second=open_second,
        draw=draw,
        by=by,
        at=at,
        **made_with,
    )


def unweighed_chosen(batch: Batch) -> list[Portion]:
    """Portions that the program chose for a batch, duplicates and of a reference soil, that hold no mass yet."""
    chosen = Q(portion__duplicate_of__isnull=False) | Q(portion__reference_soil__isnull=False)
    runs = batch.sample_runs.filter(chosen).exclude(portion__weighings__purpose=Purpose.PORTION)
    return [run.portion for run in runs if run.portion is not None]


def start_soak(batch: Batch, *, by: Person, at: datetime) -> None:
    """Record the soak: dispersant in every beaker and the blank; the spread between runs in force is bound."""
    batch.lot.require_usable(timezone.localdate(at))
    waiting = ", ".join(str(portion) for portion in unweighed_chosen(batch))
    if waiting:
        raise NotPossible(
            f"Not weighed yet: {waiting}. Weigh it, then start the soak; or say that it cannot be weighed."
        )
    bound: dict[str, Any] = {}
    for fraction, version in spreads_in_force(batch.method, at).items():
        bound |= {
            f"between_run_{fraction}_pct": version.sd,
            f"between_run_{fraction}_rise_pct": version.rise,
        }
    batch.transition(BatchState.SOAKING, by=by, at=at, soak_started_at=at, **bound)


def next_step(batch: Batch) -> str:
    """The next step of whoever planned the batch, as sentences."""
    chosen = ", ".join(portion.number for portion in unweighed_chosen(batch))
    weigh = f"Weigh {chosen} next, one more portion each, chosen by the program. Then add the dispersant."
    steps = (weigh if chosen else "Add the dispersant next.", mixed_volumes(batch))
    return " ".join(step for step in steps if step)


@transaction.atomic
def add_duplicate(
    batch: Batch, *, cylinder: Cylinder, reason: str, by: Person, at: datetime, draw: Random = DRAW
) -> Run:
    """Add one duplicate more than the rule asks for, with a reason; the program chooses its sample too."""
    batch = batch.lock()
    if batch.state != BatchState.PLANNED:
        raise WrongState(f"{batch} is “{batch.state}”; portions are added before the soak.")
    if not reason.strip():
        raise NotPossible("Say why one more portion is run.")
    able = candidates(batch)
    if not able:
        raise NotPossible(f"No sample of {batch} has soil for one more portion.")
    cylinder.require_usable(timezone.localdate(at))
    list(Cylinder.objects.filter(pk=cylinder.pk).select_for_update(no_key=True))
    if not Cylinder.objects.free().filter(pk=cylinder.pk).exists():
        raise NotPossible(f"Still in use: cylinder {cylinder.serial}. Choose another.")
    if batch.runs.filter(cylinder=cylinder).exists():
        raise NotPossible(
            f"Cylinder {cylinder.serial} was planned in {batch} for the portion taken out. Choose another."
        )
    if batch.runs.in_plan().count() >= MOST_CYLINDERS:
        raise NotPossible(TOO_MANY)
    last = batch.runs.order_by("position").last()
    position = 0 if last is None else last.position + 1
    portion = Portion.take_duplicate(draw.choice(able), by=by, at=at, reason=reason)
    return batch.runs.create(cylinder=cylinder, position=position, portion=portion)


def candidates(batch: Batch) -> list[Portion]:
    """First portions of the batch that can get a duplicate; which of them does is drawn, nobody picks a favourite."""
    return with_soil_left([run.portion for run in batch.reported_runs if run.portion is not None])


def with_soil_left(first: list[Portion]) -> list[Portion]:
    """Those of some first portions that have no duplicate yet and whose bag holds soil for one."""
    doubled = Portion.objects.filter(duplicate_of__in=first).values("duplicate_of")
    found = Portion.objects.filter(pk__in=[each.pk for each in first]).exclude(pk__in=doubled)
    found = found.prefetch_related("weighings", "sample__preparations", "sample__portions__weighings")
    return [portion for portion in found if _has_soil(portion)]


def _has_soil(portion: Portion) -> bool:
    """Whether the bag still holds as much fine earth again, with its moisture tin, after every portion so far."""
    return _left_g(portion.sample) >= _taken_g(portion)


def _left_g(sample: Sample) -> Decimal:
    """Approximate fine earth left in a bag after every portion so far. [g]"""
    preparation = max(sample.preparations.all(), key=lambda each: each.pk, default=None)
    if preparation is None:
        return Decimal(0)
    taken_g = sum(map(_taken_g, sample.portions.all()), start=Decimal(0))
    return Decimal(preparation.fine_earth_g) - taken_g


def _taken_g(portion: Portion) -> Decimal:
    """Approximate mass a portion and its moisture tin took out of the bag; the newest weighing counts. [g]"""
    weighed = [w for w in portion.weighings.all() if w.purpose == Purpose.PORTION]
    return TIN_G + max(weighed, key=lambda w: w.attempt).mass_g if weighed else Decimal(0)


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
    return f"The batch holds {spoken_count(len(pairs), 'duplicate')}; the laboratory's rule asks for {due}. {why}"
