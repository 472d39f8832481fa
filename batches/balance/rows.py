"""The worklists of the balance: samples that wait for a portion, portions that wait for a mass."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Case, Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Value, When

from batches.balance.models import CLOSED_FOR_MASSES, Purpose, Weighing
from batches.balance.ready import why_run_not_sieved
from batches.balance.stacks import Stack, stacks_of
from batches.planning.blind import is_told
from batches.planning.models import NOTED_IN, Run
from batches.voiding.models import is_void
from particles.models import Portion, PretreatmentDecision, Sample, SampleState

UNDER_WAY = (SampleState.WAITING, SampleState.IN_BATCH, SampleState.CALCULATED)
AIR_DRY = (Purpose.PORTION, Purpose.TIN, Purpose.TIN_AIR_DRY, Purpose.TIN_OVEN_DRY)
AFTER_PRETREATMENT = (Purpose.PORTION, Purpose.PRETREATED)


def needed_purposes(portion: Portion) -> tuple[Purpose, ...]:
    """Purposes a portion is weighed for: the moisture tin, or the dry portion when something was removed from it."""
    return AFTER_PRETREATMENT if portion.decision.removes_anything else AIR_DRY


def samples_to_open(user: Any) -> QuerySet[Sample]:
    """Prepared samples with a decision on pretreatment, whose next portion can be opened; the oldest jobs first."""
    decided = PretreatmentDecision.objects.filter(sample=OuterRef("pk"))
    return (
        Sample.objects.visible_to(user)
        .filter(Exists(decided), state=SampleState.PREPARED, reference_soil__isnull=True)
        .select_related("job__method")
        .annotate(portion_count=Count("portions", filter=Q(portions__duplicate_of__isnull=True)))
        .order_by("job__received_at", "job", "line")
    )


def portions_to_weigh(user: Any) -> QuerySet[Portion]:
    """Portions under way that lack a mass they need."""
    lacks = {
        purpose: ~Exists(Weighing.objects.filter(portion=OuterRef("pk"), purpose=purpose))
        for purpose in {*AIR_DRY, *AFTER_PRETREATMENT}
    }
    # Under way, the newest decision on a sample is the one its newest portion rests on.
    newest = PretreatmentDecision.objects.filter(sample=OuterRef("sample")).order_by("-pk")
    anything = Q(remove_organic_matter=True) | Q(remove_carbonates=True) | Q(remove_soluble_salts=True)
    removes = Q(removes=True)
    missing_air_dry = lacks[Purpose.TIN] | lacks[Purpose.TIN_AIR_DRY] | lacks[Purpose.TIN_OVEN_DRY]
    newer = Portion.objects.filter(
        sample=OuterRef("sample"), attempt__gt=OuterRef("attempt"), duplicate_of__isnull=True
    )
    # The container of a reference soil stays prepared while its portions stand in batches.
    of_a_soil = Q(reference_soil__isnull=False) & ~Q(run__batch__state__in=CLOSED_FOR_MASSES)
    return (
        Portion.objects.filter(sample__in=Sample.objects.visible_to(user), run__taken_out__isnull=True)
        .filter(Q(sample__state__in=UNDER_WAY) & ~Exists(newer) | of_a_soil)
        .annotate(
            removes=Subquery(
                newest.annotate(any=Case(When(anything, then=True), default=False)).values("any")[:1]
            )
        )
        .filter(lacks[Purpose.PORTION] | removes & lacks[Purpose.PRETREATED] | ~removes & missing_air_dry)
        .select_related("sample__job", "pretreatment", "run__batch")
        .prefetch_related("weighings", "sample__pretreatment_decisions")
        # Known by their code alone, two of one bag must not stand side by side.
        .annotate(by_code=Case(When(~lacks[Purpose.PORTION], run__isnull=False, then=F("drawn_code"))))
        .annotate(in_a_batch=Case(When(by_code__isnull=False, then=Value(1)), default=Value(0)))
        .order_by("in_a_batch", "by_code", "sample__job__received_at", "sample__job", "sample__line")
    )


def hides_bag(person: Any, portion: Portion) -> bool:
    """
    Whether a page must not say to this person which bag a portion is of, nor by whom and when it was weighed.

    From the batch on, a portion is known by its code alone. One that the program chose is known by its bag until its
    mass is there: the bag has to be found.
    """
    run = getattr(portion, "run", None)
    if run is None or is_told(person, run.batch):
        return False
    return any(weighing.purpose == Purpose.PORTION for weighing in portion.weighings.all())


@dataclass(frozen=True)
class SievingRow:
    """One run on the worklist of sieving: what it waits for, or what was lost when it was sieved."""

    run: Run
    why_not: str
    newest: Stack | None
    """None before it is sieved."""

    @property
    def group(self) -> str:
        """Under which heading it stands, by what is to be done."""
        if self.why_not:
            return "void" if is_void(self.run) else "waits"
        if self.newest is None:
            return "now"
        return "sieved" if self.newest.stop is None else "again"


def sieving_rows(user: Any, at: datetime) -> dict[str, list[SievingRow]]:
    """Runs with soil of batches filled and not yet handed over, by what is to be done; in the order of cylinders."""
    runs = (
        Run.objects.in_plan()
        .filter(is_blank=False, batch__state__in=NOTED_IN, portion__sample__in=Sample.objects.visible_to(user))
        .select_related("batch__method", "cylinder", "run_start", "portion__sample__job__method")
        .prefetch_related(
            "readings", "replunges", "voids__lifted", "portion__sieve_masses__by", "portion__sieve_masses__balance",
            "portion__weighings",
        )
        .order_by("batch__number", "position")
    )  # fmt: skip
    found: dict[str, list[SievingRow]] = {group: [] for group in ("again", "now", "waits", "void", "sieved")}
    for run in runs:
        assert run.portion is not None, "the blank has no sand"
        stacks = stacks_of(run.portion)
        row = SievingRow(run, why_run_not_sieved(run, at), stacks[-1] if stacks else None)
        found[row.group].append(row)
    return found


@dataclass(frozen=True)
class MassLine:
    """One purpose with what is recorded for it; the last weighing counts."""

    purpose: Purpose
    weighings: list[Weighing]

    @property
    def label(self) -> str:
        return str(self.purpose.label).capitalize()


def mass_lines(portion: Portion, purposes: tuple[Purpose, ...]) -> list[MassLine]:
    """A line for each purpose, with the weighings of the portion for it in order of attempts."""
    found = list(portion.weighings.select_related("balance", "by").order_by("attempt"))
    return [MassLine(p, [w for w in found if w.purpose == p]) for p in purposes]


def missing_masses(portion: Portion) -> str:
    """Labels of the masses a portion still needs, with commas between them; '' when it lacks none."""
    have = {w.purpose for w in portion.weighings.all()}
    return ", ".join(str(p.label) for p in needed_purposes(portion) if p not in have)
