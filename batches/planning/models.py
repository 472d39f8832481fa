"""Batches, and the runs that stand in them side by side."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from random import Random
from typing import Any, Self

import pgtrigger
from django.conf import settings
from django.db import models, transaction
from django.db.models import Q
from django.utils import timezone

from batches.entries.models import EnteredAct
from batches.equipment.models import Cylinder, DispersantLot, HydrometerRecord, Thermometer
from batches.planning.four_eyes import FourEyes, people_in, stands_in
from batches.planning.places import second_places
from particles.distribution.possible import MOST_PORTIONS
from particles.distribution.record import SpreadByContent
from particles.distribution.spoken import spoken_count
from particles.models import MethodEditionRecord, NumberSeries, Portion, Sample, SampleState
from particles.portions.code import DRAW
from particles.records.act import Side
from particles.records.history import audited, never_changed, never_deleted
from particles.records.moves import Move, allowed_moves, change_state
from particles.records.person import Person
from particles.records.refusals import NotPossible, NotThisPerson, WrongState
from particles.records.written_once import WrittenOnce, columns_of, row_of


class BatchState(models.TextChoices):
    """The states of a batch, from the plan to the signature."""

    PLANNED = "planned"
    SOAKING = "soaking"
    DISPERSED = "dispersed"
    RUNNING = "running"
    READINGS_COMPLETE = "readings complete"
    SUBMITTED = "submitted for review"
    RETURNED = "returned to bench"
    APPROVED = "approved"
    REOPENED = "re-opened"
    REJECTED = "rejected"
    ABORTED = "aborted"


MOVES: dict[str, tuple[str, ...]] = {
    BatchState.PLANNED: (BatchState.SOAKING, BatchState.ABORTED),
    BatchState.SOAKING: (BatchState.DISPERSED, BatchState.ABORTED),
    BatchState.DISPERSED: (BatchState.RUNNING, BatchState.ABORTED),
    BatchState.RUNNING: (BatchState.READINGS_COMPLETE, BatchState.ABORTED),
    BatchState.READINGS_COMPLETE: (BatchState.SUBMITTED,),
    BatchState.SUBMITTED: (BatchState.APPROVED, BatchState.RETURNED, BatchState.REJECTED),
    BatchState.RETURNED: (BatchState.SUBMITTED, BatchState.REJECTED),
    BatchState.APPROVED: (BatchState.REOPENED,),
    BatchState.REOPENED: (BatchState.APPROVED, BatchState.RETURNED, BatchState.REJECTED),
}
UNDER_REVIEW = (BatchState.SUBMITTED, BatchState.REOPENED)
"""While a reviewer notes, decides and signs: handed over, or signed once and re-opened as nonconforming work."""
OPEN_FOR_READINGS = (BatchState.RUNNING, BatchState.READINGS_COMPLETE, BatchState.RETURNED)
NOTED_IN = (BatchState.DISPERSED, *OPEN_FOR_READINGS)
"""While something seen at a cylinder is kept."""
CLOSED = (BatchState.APPROVED, BatchState.REJECTED, BatchState.ABORTED)


@audited
class Batch(models.Model):
    """Cylinders run side by side with one blank, one dispersant lot and one method edition."""

    MOVES = MOVES
    State = BatchState

    number = models.CharField(max_length=16, unique=True)
    method = models.ForeignKey(MethodEditionRecord, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(DispersantLot, on_delete=models.PROTECT, related_name="batches")
    hydrometer = models.ForeignKey(HydrometerRecord, on_delete=models.PROTECT, related_name="batches")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="batches")
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    state = models.CharField(max_length=24, choices=BatchState.choices, default=BatchState.PLANNED)
    soak_started_at = models.DateTimeField(null=True, blank=True)
    dispersed_at = models.DateTimeField(null=True, blank=True)
    mixing_minutes = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    soak_note = models.CharField(
        max_length=200, blank=True, help_text="Why the soak was shorter than the method says."
    )
    between_run_sd_pct = models.DecimalField(
        max_digits=5,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="The laboratory's own when the soak began; empty: the method's. [percentage points]",
    )
    between_run_sand_pct = models.DecimalField(
        max_digits=6,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Of sand alone, from the limits in force at the soak; empty: as for both. [percentage points]",
    )
    between_run_sand_rise_pct = models.DecimalField(max_digits=6, decimal_places=4, null=True, blank=True)
    between_run_clay_pct = models.DecimalField(
        max_digits=6, decimal_places=4, null=True, blank=True, help_text="Of clay alone. [percentage points]"
    )
    between_run_clay_rise_pct = models.DecimalField(max_digits=6, decimal_places=4, null=True, blank=True)
    between_run_pairs = models.PositiveIntegerField(
        null=True, blank=True, help_text="Duplicates it comes from."
    )
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_digest = models.CharField(
        max_length=64, blank=True, help_text="Of all results the signature covers."
    )

    class Meta:
        ordering = ["-planned_at"]
        verbose_name_plural = "batches"
        constraints = [
            models.CheckConstraint(
                condition=Q(approved_by__isnull=True, approved_at__isnull=True, approved_digest="")
                | Q(approved_by__isnull=False, approved_at__isnull=False) & ~Q(approved_digest=""),
                name="approval_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(state=BatchState.APPROVED, approved_by__isnull=False)
                | ~Q(state=BatchState.APPROVED) & Q(approved_by__isnull=True),
                name="approved_means_signed",
            ),
            models.CheckConstraint(
                condition=Q(between_run_sd_pct__isnull=True, between_run_pairs__isnull=True)
                | Q(between_run_sd_pct__gt=0, between_run_pairs__gt=0)
                | Q(between_run_sd_pct__isnull=True)
                & (Q(between_run_sand_pct__isnull=False) | Q(between_run_clay_pct__isnull=False)),
                name="between_run_figure_is_whole",
            ),
        ]
        triggers = [
            allowed_moves(MOVES),
            never_deleted(),
            FourEyes(name="four_eyes"),
            pgtrigger.Trigger(
                name="reopened_as_nonconforming_work",
                when=pgtrigger.Before,
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__state="approved", new__state="re-opened"),
                func="""
                IF NOT EXISTS (
                    SELECT 1 FROM batches_nonconformingwork n
                     WHERE n.batch_id = OLD.id AND n.at >= OLD.approved_at
                ) THEN
                    RAISE EXCEPTION 'a batch is re-opened with what was found wrong'
                        USING ERRCODE = 'check_violation';
                END IF;
                RETURN NEW;
                """,
            ),
            # Bound when the soak begins: the same record gives the same digest ever after.
            pgtrigger.Protect(
                name="between_run_figure_stays",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__soak_started_at__isnull=False)
                & (
                    pgtrigger.Q(old__between_run_sd_pct__df=pgtrigger.F("new__between_run_sd_pct"))
                    | pgtrigger.Q(old__between_run_pairs__df=pgtrigger.F("new__between_run_pairs"))
                    | pgtrigger.Q(old__between_run_sand_pct__df=pgtrigger.F("new__between_run_sand_pct"))
                    | pgtrigger.Q(
                        old__between_run_sand_rise_pct__df=pgtrigger.F("new__between_run_sand_rise_pct")
                    )
                    | pgtrigger.Q(old__between_run_clay_pct__df=pgtrigger.F("new__between_run_clay_pct"))
                    | pgtrigger.Q(
                        old__between_run_clay_rise_pct__df=pgtrigger.F("new__between_run_clay_rise_pct")
                    )
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"batch {self.number}"

    @classmethod
    @transaction.atomic
    def plan(
        cls,
        *,
        portions: list[Portion],
        cylinders: list[Cylinder],
        method: MethodEditionRecord,
        lot: DispersantLot,
        hydrometer: HydrometerRecord,
        thermometer: Thermometer,
        by: Person,
        at: datetime,
        second_portions: int = 0,
        open_second: Callable[[Batch], list[Portion]] = lambda batch: [],
        draw: Random = DRAW,
    ) -> Batch:
        """
        Put portions into cylinders, beside a blank that the batch always has.

        `cylinders` stand in a row: the blank's first, then one for each portion and for each of at most
        `second_portions` that `open_second` opens. Their places are drawn, and so is the order in which the runs
        are made: neither place nor row of a run tells what stands in it.
        """
        if not 1 <= len(portions) <= MOST_PORTIONS:
            raise NotPossible(
                f"A batch holds 1 to {MOST_PORTIONS} portions and a blank, not {len(portions)}."
            )
        row = len(portions) + second_portions
        if len(set(cylinders)) != row + 1 or len(cylinders) != row + 1:
            also = f", {spoken_count(second_portions, 'second portion')}" if second_portions else ""
            raise NotPossible(
                f"{spoken_count(len(portions), 'portion')}{also} and the blank need {row + 1} different cylinders."
            )
        day = timezone.localdate(at)
        instruments: list[Any] = [lot, hydrometer, thermometer, *cylinders]
        for instrument in instruments:
            instrument.require_usable(day)
        # Locked first and asked afterwards: a waiting statement would still see the time before it waited.
        chosen = Cylinder.objects.filter(pk__in=[c.pk for c in cylinders])
        list(chosen.select_for_update(no_key=True).order_by("pk"))
        taken = set(cylinders) - set(chosen.free())
        if taken:
            names = ", ".join(sorted(c.serial for c in taken))
            raise NotPossible(f"Still in use by another batch: cylinder {names}. Choose others.")
        for portion in portions:
            agreed = portion.sample.job.method
            if agreed != method:
                raise NotPossible(f"{portion}: the job asks for “{agreed}”, this batch runs “{method}”.")
        batch = cls.objects.create(
            number=f"B{day:%y}-{NumberSeries.take('batch', day.year):04d}",
            method=method,
            lot=lot,
            hydrometer=hydrometer,
            thermometer=thermometer,
            planned_by=by,
            planned_at=at,
        )
        batch.runs.create(cylinder=cylinders[0], position=0, is_blank=True)
        for portion in portions:
            # The sample moves first: of two people who take it at once, the second is told so.
            portion.sample.transition(SampleState.IN_BATCH, by=by, at=at, reason=str(batch))
        drawn = second_places(row, second_portions, draw=draw)
        rest = sorted(set(range(1, row + 1)) - set(drawn))
        placed = [*zip(rest, portions, strict=True), *zip(drawn, open_second(batch), strict=False)]
        for position, portion in draw.sample(placed, len(placed)):
            batch.runs.create(cylinder=cylinders[position], position=position, portion=portion)
        return batch

    def transition(self, to: str, *, by: Person, at: datetime, reason: str = "", **also: Any) -> None:
        """The only way a batch changes state."""
        change_state(self, to, by=by, at=at, reason=reason, **also)

    @property
    def taken_out(self) -> models.QuerySet[TakenOut]:
        """Duplicates that could not be weighed, with who said so and why."""
        return TakenOut.objects.filter(run__batch=self).select_related(
            "by", "run__portion__sample", "run__cylinder"
        )

    def disperse(self, *, by: Person, at: datetime, mixing_minutes: float, soak_note: str = "") -> None:
        """Record that the soil was mixed and the cylinders filled to the mark. From here the membership is fixed."""
        if self.soak_started_at is None:
            raise WrongState(f"{self} is “{self.state}”; record the soak first.")
        self.require_soaked_or_said((at - self.soak_started_at).total_seconds() / 3600, soak_note)
        self.transition(
            BatchState.DISPERSED,
            by=by,
            at=at,
            dispersed_at=at,
            mixing_minutes=mixing_minutes,
            soak_note=soak_note,
        )

    def require_soaked_or_said(self, soaked_h: float | None, soak_note: str) -> None:
        """Refuse a soak shorter than the method's minimum without a note that says why."""
        minimum_h = self.method.edition.soak_minimum_h
        if soaked_h is not None and soaked_h < minimum_h and not soak_note:
            raise NotPossible(
                f"The soak lasted {soaked_h:.1f} h; the method asks for {minimum_h:g} h. "
                "Wait, or say why it was cut short: the certificate will say so."
            )

    @property
    def soaked_h(self) -> float | None:
        """Duration of the soak; None until the cylinders are filled. [h]"""
        if self.soak_started_at is None or self.dispersed_at is None:
            return None
        return (self.dispersed_at - self.soak_started_at).total_seconds() / 3600

    @property
    def blank(self) -> Run:
        """The run of the blank."""
        return self.runs.get(is_blank=True)

    @property
    def sample_runs(self) -> models.QuerySet[Run]:
        """Runs of the plan that hold soil, duplicates included."""
        return (
            self.runs.in_plan()
            .filter(is_blank=False)
            .select_related("portion__sample__job", "cylinder", "batch__method")
        )

    @property
    def reported_runs(self) -> models.QuerySet[Run]:
        """The runs a certificate may report: clients' first portions, no duplicate and no reference soil."""
        return self.sample_runs.filter(
            portion__duplicate_of__isnull=True, portion__reference_soil__isnull=True
        )

    def between_run_of(self, fraction: str) -> SpreadByContent | None:
        """Spread of `sand` or `clay` alone that was bound when the soak began; None: the figure for both counts."""
        level_pct, rise_pct = {
            "sand": (self.between_run_sand_pct, self.between_run_sand_rise_pct),
            "clay": (self.between_run_clay_pct, self.between_run_clay_rise_pct),
        }[fraction]
        return None if level_pct is None else SpreadByContent(float(level_pct), float(rise_pct or 0))

    def between_run_in_force(self, fraction: str) -> SpreadByContent:
        """Between-run spread that counts for `sand` or `clay` in this batch."""
        bound = self.between_run_sd_pct
        both_pct = self.method.edition.dispersion_sd_pct if bound is None else float(bound)
        return self.between_run_of(fraction) or SpreadByContent(both_pct)

    @property
    def instead_of_changing(self) -> str:
        """What to do where the signature forbids a change, as a sentence with a space before it; '' otherwise."""
        if self.state != BatchState.APPROVED:
            return ""
        return (
            " What was signed stays: the QA officer re-opens the batch as nonconforming work, "
            f"at the end of the page “Review of batch {self.number}”."
        )

    def lock(self) -> Batch:
        """This batch read anew and locked until the transaction ends."""
        return self.locked(self.pk)

    @classmethod
    def locked(cls, pk: int) -> Batch:
        """The batch with this key, read and locked until the transaction ends."""
        found = _LOCKED(batch=pk)
        if not found:
            raise cls.DoesNotExist(f"no batch has the key {pk}")
        batch = row_of(cls, found[0])
        batch.method = MethodEditionRecord.known(batch.method_id)
        return batch

    def workers(self) -> set[int]:
        """Primary keys of everybody who planned, prepared, weighed, read or did anything else here."""
        return people_in(self, Side.BENCH)

    def require_other_person(self, by: Person) -> None:
        """Refuse a reviewer who worked in the batch."""
        if stands_in(self, Side.BENCH, by):
            raise NotThisPerson(f"{by} worked in {self}; somebody else must review it.")

    @transaction.atomic
    def abort(self, *, by: Person, at: datetime, reason: str) -> None:
        """Give the batch up with a reason; its samples go back for a new portion."""
        if not reason:
            raise NotPossible("Say why the batch is aborted.")
        self.transition(BatchState.ABORTED, by=by, at=at, reason=reason)
        for run in self.reported_runs:
            # That of a void run waits for its new portion already, or has gone on with it.
            if run.sample.portion == run.portion and run.sample.state != SampleState.PREPARED:
                run.sample.transition(SampleState.PREPARED, by=by, at=at, reason=f"{self} aborted: {reason}")


def _locked(batch: int) -> models.QuerySet[Batch, dict[str, Any]]:
    return Batch.objects.select_for_update(no_key=True).filter(pk=batch).order_by().values(*columns_of(Batch))


_LOCKED = WrittenOnce(_locked, batch=-1)


@audited
class BatchMove(Move):
    """One change of a batch's state; those up to the last reading are work done in it."""

    batch_path = "batch"
    WORK = (BatchState.SOAKING, BatchState.DISPERSED, BatchState.RUNNING, BatchState.READINGS_COMPLETE)

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="moves")

    class Meta(Move.Meta):
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.batch}: {self.from_state} to {self.to_state}"

    @classmethod
    def done_in(cls, batch: Any) -> models.QuerySet[Any]:
        """Moves that soaked, mixed, filled, started or ended the reading; handing over and deciding are none."""
        return super().done_in(batch).filter(to_state__in=[str(state) for state in cls.WORK])


_CLOSED_BATCH = """
    IF EXISTS (
        SELECT 1 FROM batches_run u JOIN batches_batch b ON b.id = u.batch_id
         WHERE {joined} AND b.state IN ('submitted for review', 'approved', 're-opened', 'rejected', 'aborted')
    ) THEN
        RAISE EXCEPTION 'the batch is closed for {what}' USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
"""


def batch_open_for(what: str, *, joined: str) -> pgtrigger.Trigger:
    """The database takes no row that belongs to a run whose batch is handed over or closed."""
    return pgtrigger.Trigger(
        name=f"batch_open_for_{what}",
        when=pgtrigger.Before,
        operation=pgtrigger.Insert,
        func=_CLOSED_BATCH.format(joined=joined, what=what),
    )


def batch_open_for_readings() -> pgtrigger.Trigger:
    """The database takes no start, reading or observation of a run whose batch is handed over or closed."""
    return batch_open_for("readings", joined="u.id = NEW.run_id")


class Source(models.TextChoices):
    """The way a value came in: at the bench or from paper."""

    TABLET = "tablet"
    PAPER = "paper"


class RunQuerySet(models.QuerySet["Run"]):
    """Runs, and which of them belong to the plan."""

    def in_plan(self) -> Self:
        """Runs of the plan: all but the duplicates that could not be weighed and were taken out."""
        return self.filter(taken_out__isnull=True)


@audited
class Run(models.Model):
    """One cylinder in a batch: a portion's turn, or the blank."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="runs")
    cylinder = models.ForeignKey(Cylinder, on_delete=models.PROTECT, related_name="runs")
    position = models.PositiveSmallIntegerField(help_text="Place in the row; the blank stands at 0.")
    portion = models.OneToOneField(
        Portion, on_delete=models.PROTECT, related_name="run", null=True, blank=True
    )
    is_blank = models.BooleanField(default=False)

    objects = RunQuerySet.as_manager()

    class Meta:
        ordering = ["batch", "position"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "cylinder"], name="one_run_per_cylinder_and_batch"),
            models.UniqueConstraint(fields=["batch", "position"], name="one_run_per_place"),
            models.UniqueConstraint(fields=["batch"], condition=Q(is_blank=True), name="one_blank_per_batch"),
            models.CheckConstraint(
                condition=Q(is_blank=True, portion__isnull=True) | Q(is_blank=False, portion__isnull=False),
                name="a_run_is_a_portion_or_the_blank",
            ),
        ]
        triggers = [never_changed(), never_deleted()]

    def __str__(self) -> str:
        return f"cylinder {self.cylinder.serial} in {self.batch}"

    @property
    def title(self) -> str:
        """Title for whoever judges: the lab number in the cylinder, with what it is beside a first portion; `blank`."""
        if self.portion is None:
            return "blank"
        also = " duplicate" if self.is_duplicate else " reference soil" if self.is_reference else ""
        return self.portion.sample.lab_number + also

    @property
    def bench_title(self) -> str:
        """Title for whoever weighs and reads: the code on the beaker, which tells no duplicate from a first portion."""
        return "blank" if self.portion is None else self.portion.code

    @property
    def is_duplicate(self) -> bool:
        """Whether it is compared with the run of its sample's first portion, and never reported."""
        return self.portion is not None and self.portion.duplicate_of_id is not None

    @property
    def is_reference(self) -> bool:
        """Whether it holds a reference soil, whose figures are known, and is never reported."""
        return self.portion is not None and self.portion.reference_soil_id is not None

    @property
    def is_reported(self) -> bool:
        """Whether a certificate may report it: a client's soil, and no duplicate."""
        return self.portion is not None and not (self.is_duplicate or self.is_reference)

    @property
    def sample(self) -> Sample:
        """The sample whose portion stands in the cylinder; the blank has none."""
        assert self.portion is not None, "the blank has no sample"
        return self.portion.sample


@audited
class TakenOut(EnteredAct):
    """The act that takes a duplicate's run out of the plan. The run and its portion stay on record."""

    batch_path = "run__batch"

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="taken_out")
    reason = models.CharField(max_length=300, help_text="Why the duplicate cannot be weighed.")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "taken out"
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="taking_out_says_why")]
        triggers = [
            never_changed(),
            pgtrigger.Trigger(
                name="only_a_duplicate_not_weighed",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func=pgtrigger.Func(
                    """
                    IF NOT EXISTS (
                        SELECT 1 FROM batches_run u JOIN batches_batch b ON b.id = u.batch_id
                          JOIN particles_portion p ON p.id = u.portion_id
                         WHERE u.id = NEW.run_id AND b.state = 'planned' 
                           AND (p.duplicate_of_id IS NOT NULL OR p.reference_soil_id IS NOT NULL)
                           AND NOT EXISTS (
                               SELECT 1 FROM batches_weighing w WHERE w.portion_id = p.id AND w.purpose = 'portion'
                           )
                    ) THEN
                        RAISE EXCEPTION 'only a portion the program chose is taken out, not weighed and before the soak'
                            USING ERRCODE = 'check_violation';
                    END IF;
                    RETURN NEW;
                    """
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run}, taken out"
