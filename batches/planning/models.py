"""Batches, and the runs that stand in them side by side."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Self

import pgtrigger
from django.conf import settings
from django.db import models, transaction
from django.db.models import F, OuterRef, Q, Subquery
from django.utils import timezone

from batches.equipment.models import Cylinder, DispersantLot, HydrometerRecord, Thermometer
from particles.distribution.possible import MOST_PORTIONS
from particles.models import MethodEditionRecord, NumberSeries, Portion, Preparation, Sample, SampleState
from particles.records.history import audited, never_changed, never_deleted
from particles.records.moves import Move, allowed_moves, change_state
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState

if TYPE_CHECKING:
    from batches.bench.models import Reading, Replunge, RunStart
    from batches.computing.models import Result
    from batches.voiding.models import RunVoid, TakenOut


class BatchState(models.TextChoices):
    PLANNED = "planned"
    SOAKING = "soaking"
    DISPERSED = "dispersed"
    RUNNING = "running"
    READINGS_COMPLETE = "readings complete"
    SUBMITTED = "submitted for review"
    RETURNED = "returned to bench"
    APPROVED = "approved"
    REJECTED = "rejected"
    ABORTED = "aborted"


B = BatchState
MOVES: dict[str, tuple[str, ...]] = {
    B.PLANNED: (B.SOAKING, B.ABORTED),
    B.SOAKING: (B.DISPERSED, B.ABORTED),
    B.DISPERSED: (B.RUNNING, B.ABORTED),
    B.RUNNING: (B.READINGS_COMPLETE, B.ABORTED),
    B.READINGS_COMPLETE: (B.SUBMITTED,),
    B.SUBMITTED: (B.APPROVED, B.RETURNED, B.REJECTED),
    B.RETURNED: (B.SUBMITTED, B.REJECTED),
}
OPEN_FOR_READINGS = (B.RUNNING, B.READINGS_COMPLETE, B.RETURNED)
CLOSED = (B.APPROVED, B.REJECTED, B.ABORTED)

_AT_CYLINDERS = ("reading", "runstart", "replunge", "observation", "runvoid", "takenout")
"""Tables of what somebody did or saw at a cylinder; the same as in `Batch.workers`."""
_WORKED_AT_A_CYLINDER = "UNION ALL".join(
    f"""
        SELECT 1 FROM batches_{table} t JOIN batches_run u ON u.id = t.run_id
         WHERE u.batch_id = NEW.id AND t.by_id = NEW.approved_by_id
        """
    for table in _AT_CYLINDERS
)
_FOUR_EYES = f"""
    IF NEW.state = 'approved' AND EXISTS ({_WORKED_AT_A_CYLINDER}UNION ALL
        SELECT 1 FROM batches_weighing w JOIN batches_run u ON u.portion_id = w.portion_id
         WHERE u.batch_id = NEW.id AND w.by_id = NEW.approved_by_id
        UNION ALL
        SELECT 1 FROM batches_sievemass s JOIN batches_run u ON u.portion_id = s.portion_id
         WHERE u.batch_id = NEW.id AND s.by_id = NEW.approved_by_id
        UNION ALL
        SELECT 1 FROM batches_densitycorrection d JOIN batches_run u ON u.portion_id = d.portion_id
         WHERE u.batch_id = NEW.id AND d.by_id = NEW.approved_by_id
        UNION ALL
        SELECT 1 FROM batches_fillingcorrection f
         WHERE f.batch_id = NEW.id AND f.by_id = NEW.approved_by_id
        UNION ALL
        SELECT 1 FROM particles_preparation p JOIN particles_portion o ON o.sample_id = p.sample_id
          JOIN batches_run u ON u.portion_id = o.id
         WHERE u.batch_id = NEW.id AND p.by_id = NEW.approved_by_id
    ) THEN
        RAISE EXCEPTION 'nobody approves a batch they read or weighed in' USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
"""


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
    state = models.CharField(max_length=24, choices=BatchState.choices, default=B.PLANNED)
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
                condition=Q(state=B.APPROVED, approved_by__isnull=False)
                | ~Q(state=B.APPROVED) & Q(approved_by__isnull=True),
                name="approved_means_signed",
            ),
            models.CheckConstraint(
                condition=Q(between_run_sd_pct__isnull=True, between_run_pairs__isnull=True)
                | Q(between_run_sd_pct__gt=0, between_run_pairs__gt=0),
                name="between_run_figure_is_whole",
            ),
        ]
        triggers = [
            allowed_moves(MOVES),
            never_deleted(),
            pgtrigger.Trigger(
                name="four_eyes",
                when=pgtrigger.Before,
                operation=pgtrigger.Update,
                func=pgtrigger.Func(_FOUR_EYES),
            ),
            # Bound when the soak begins: the same record gives the same digest ever after.
            pgtrigger.Protect(
                name="between_run_figure_stays",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__soak_started_at__isnull=False)
                & (
                    pgtrigger.Q(old__between_run_sd_pct__df=pgtrigger.F("new__between_run_sd_pct"))
                    | pgtrigger.Q(old__between_run_pairs__df=pgtrigger.F("new__between_run_pairs"))
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
        by: Any,
        at: datetime,
    ) -> Batch:
        """
        Put portions into cylinders, beside a blank that the batch always has.

        `cylinders` are the blank's first, then one for each portion in order.
        """
        if not 1 <= len(portions) <= MOST_PORTIONS:
            raise NotPossible(
                f"A batch holds 1 to {MOST_PORTIONS} portions and a blank, not {len(portions)}."
            )
        if len(set(cylinders)) != len(portions) + 1:
            raise NotPossible(
                f"{len(portions)} portions and the blank need {len(portions) + 1} different cylinders."
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
        for position, (portion, cylinder) in enumerate(zip(portions, cylinders[1:], strict=True), start=1):
            # The sample moves first: of two people who take it at once, the second is told so.
            portion.sample.transition(SampleState.IN_BATCH, by=by, at=at, reason=str(batch))
            batch.runs.create(cylinder=cylinder, position=position, portion=portion)
        return batch

    def transition(self, to: str, *, by: Any, at: datetime, reason: str = "", **also: Any) -> None:
        """The only way a batch changes state."""
        change_state(self, to, by=by, at=at, reason=reason, **also)

    def start_soak(self, *, by: Any, at: datetime) -> None:
        """Dispersant added to every beaker and to the blank; the laboratory's own between-run figure is bound."""
        from batches.quality.own_figure import own_spread

        self.lot.require_usable(timezone.localdate(at))
        self._require_duplicates_weighed()
        own = own_spread(self.method, at=at)
        bound: dict[str, Any] = (
            {} if own is None else {"between_run_sd_pct": own.sd_pct, "between_run_pairs": own.pairs}
        )
        self.transition(B.SOAKING, by=by, at=at, soak_started_at=at, **bound)

    @property
    def taken_out(self) -> models.QuerySet[TakenOut]:
        """Duplicates that could not be weighed, with who said so and why."""
        from batches.voiding.models import TakenOut

        return TakenOut.objects.filter(run__batch=self).select_related(
            "by", "run__portion__sample", "run__cylinder"
        )

    def unweighed_duplicates(self) -> list[Portion]:
        duplicates = self.sample_runs.filter(portion__duplicate_of__isnull=False)
        runs = duplicates.exclude(portion__weighings__purpose="portion")
        return [run.portion for run in runs if run.portion is not None]

    def _require_duplicates_weighed(self) -> None:
        waiting = ", ".join(str(portion) for portion in self.unweighed_duplicates())
        if waiting:
            raise NotPossible(
                f"Not weighed yet: {waiting}. Weigh it, then start the soak; or say that it cannot be weighed."
            )

    def disperse(self, *, by: Any, at: datetime, mixing_minutes: float, soak_note: str = "") -> None:
        """Mixed, transferred, filled to the mark. From here the membership is fixed."""
        if self.soak_started_at is None:
            raise WrongState(f"{self} is “{self.state}”; record the soak first.")
        self.require_soaked_or_said((at - self.soak_started_at).total_seconds() / 3600, soak_note)
        self.transition(
            B.DISPERSED, by=by, at=at, dispersed_at=at, mixing_minutes=mixing_minutes, soak_note=soak_note
        )

    def require_soaked_or_said(self, soaked_h: float | None, soak_note: str) -> None:
        minimum_h = self.method.edition.soak_minimum_h
        if soaked_h is not None and soaked_h < minimum_h and not soak_note:
            raise NotPossible(
                f"The soak lasted {soaked_h:.1f} h; the method asks for {minimum_h:g} h. "
                "Wait, or say why it was cut short: the certificate will say so."
            )

    @property
    def soaked_h(self) -> float | None:
        if self.soak_started_at is None or self.dispersed_at is None:
            return None
        return (self.dispersed_at - self.soak_started_at).total_seconds() / 3600

    @property
    def blank(self) -> Run:
        return self.runs.get(is_blank=True)

    @property
    def sample_runs(self) -> models.QuerySet[Run]:
        return (
            self.runs.in_plan()
            .filter(is_blank=False)
            .select_related("portion__sample__job", "cylinder", "batch__method")
        )

    @property
    def reported_runs(self) -> models.QuerySet[Run]:
        """The runs a certificate may report: those of first portions, no duplicate."""
        return self.sample_runs.filter(portion__duplicate_of__isnull=True)

    @property
    def between_run_in_force_pct(self) -> float:
        """Between-run standard deviation of clay and of sand for this batch. [percentage points]"""
        own = self.between_run_sd_pct
        return self.method.edition.dispersion_sd_pct if own is None else float(own)

    @property
    def is_read(self) -> bool:
        """Whether every slot of every cylinder that is not void holds a reading or a reason."""
        from batches.bench.models import Reading, Replunge

        slots, standing = len(self.method.edition.schedule_s), self.runs.in_plan().not_void()
        newest = Replunge.objects.filter(run=OuterRef("run")).order_by("-turn").values("pk")[:1]
        of_zero = Reading.objects.filter(run__in=standing).annotate(zero=Subquery(newest))
        counts = of_zero.filter(Q(replunge=F("zero")) | Q(replunge__isnull=True, zero__isnull=True))
        return counts.values("run", "slot_s").distinct().count() == slots * standing.count()

    def lock(self) -> Batch:
        """The same batch, locked until the transaction ends."""
        return (
            Batch.objects.select_for_update(no_key=True, of=("self",))
            .select_related("method")
            .get(pk=self.pk)
        )

    def require_open(self) -> None:
        if self.state in CLOSED:
            raise WrongState(
                f"{self} is {self.state}; nothing can be added. Open nonconforming work instead."
            )

    def workers(self) -> set[int]:
        """Everybody who started, read, noted, voided, weighed, sieved, prepared, corrected or took out here."""
        from batches.balance.models import SieveMass, Weighing
        from batches.bench.models import Observation, Reading, Replunge, RunStart
        from batches.corrections.models import DensityCorrection, FillingCorrection
        from batches.voiding.models import RunVoid, TakenOut

        at_cylinders: tuple[Any, ...] = (Reading, RunStart, Replunge, Observation, RunVoid, TakenOut)
        by_run = (m.objects.filter(run__batch=self) for m in at_cylinders)
        by_portion = (
            m.objects.filter(portion__run__batch=self) for m in (Weighing, SieveMass, DensityCorrection)
        )
        filled = FillingCorrection.objects.filter(batch=self)
        prepared = Preparation.objects.filter(sample__portions__run__batch=self)
        return {
            pk
            for rows in (*by_run, *by_portion, filled, prepared)
            for pk in rows.values_list("by", flat=True)
        }

    def require_other_person(self, by: Any) -> None:
        if by.pk in self.workers():
            raise NotThisPerson(f"{by} read or weighed in {self}; somebody else must review it.")

    @transaction.atomic
    def abort(self, *, by: Any, at: datetime, reason: str) -> None:
        if not reason:
            raise NotPossible("Say why the batch is aborted.")
        self.transition(B.ABORTED, by=by, at=at, reason=reason)
        for run in self.reported_runs:
            run.sample.transition(SampleState.PREPARED, by=by, at=at, reason=f"{self} aborted: {reason}")


@audited
class BatchMove(Move):
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="moves")

    class Meta(Move.Meta):
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"{self.batch}: {self.from_state} to {self.to_state}"


CLOCK_TOLERANCE = timedelta(seconds=5)
"""How far a tablet may seem ahead of the laboratory's clock before its times are refused."""


SAME_ZERO = timedelta(seconds=2)
"""Farther apart, two tablets count from different moments."""


_CLOSED_BATCH = """
    IF EXISTS (
        SELECT 1 FROM batches_run u JOIN batches_batch b ON b.id = u.batch_id
         WHERE {joined} AND b.state IN ('submitted for review', 'approved', 'rejected', 'aborted')
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
    """For rows about a run."""
    return batch_open_for("readings", joined="u.id = NEW.run_id")


class Source(models.TextChoices):
    TABLET = "tablet"
    PAPER = "paper"


class RunQuerySet(models.QuerySet["Run"]):
    def in_plan(self) -> Self:
        """Without the duplicates that could not be weighed and were taken out."""
        return self.filter(taken_out__isnull=True)

    def not_void(self) -> Self:
        """Without those that were made void, unless that was lifted."""
        from batches.voiding.models import RunVoid

        return self.exclude(pk__in=RunVoid.objects.filter(lifted__isnull=True).values("run"))


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
        """What stands in the cylinder, in a word or two."""
        if self.portion is None:
            return "blank"
        return self.portion.sample.lab_number + (" duplicate" if self.is_duplicate else "")

    @property
    def is_duplicate(self) -> bool:
        """Whether it is compared with the run of its sample's first portion, and never reported."""
        return self.portion is not None and self.portion.duplicate_of_id is not None

    @property
    def sample(self) -> Sample:
        """The sample whose portion stands in the cylinder; the blank has none."""
        assert self.portion is not None, "the blank has no sample"
        return self.portion.sample

    @property
    def first_started_at(self) -> datetime | None:
        from batches.bench.models import RunStart

        start = RunStart.objects.filter(run=self).first()
        return start.started_at if start else None

    @property
    def replunge(self) -> Replunge | None:
        """The newest time zero, when the cylinder was stirred again; None while the first start counts."""
        return max(self.replunges.all(), key=lambda each: each.turn, default=None)

    @property
    def started_at(self) -> datetime | None:
        """Time zero of the readings that count."""
        again = self.replunge
        return self.first_started_at if again is None else again.started_at

    def open_bench(self, what: str, *, states: tuple[str, ...], by: Any) -> Batch:
        """The batch, locked, if `by` may add to this run now; `what` is what does not happen otherwise."""
        from batches.review.models import FlagReview
        from batches.voiding.models import TakenOut

        batch = self.batch.lock()
        if batch.state not in states:
            raise WrongState(f"{batch} is “{batch.state}”; {what} now.")
        if FlagReview.objects.filter(flag__result__run__batch=batch, by=by).exists():
            raise NotThisPerson(f"{by} has reviewed flags of {batch} and reads nothing in it any more.")
        out = TakenOut.objects.filter(run=self).first()
        if out is not None:
            raise WrongState(f"{self} was taken out of the plan by {out.by}: {out.reason}")
        void = self.voids.filter(lifted__isnull=True).first()
        if void is not None:
            raise WrongState(
                f"Cylinder {self.cylinder.serial} is void: {void.in_words}. Nothing is added to it."
            )
        return batch

    def start(
        self, *, started_at: datetime, source: str, entry: Any, by: Any, at: datetime, reason: str = ""
    ) -> RunStart:
        """The plunger left the liquid: time zero. The first start stays."""
        from batches.bench.models import RunStart

        batch = self.batch.lock()
        if batch.state not in (BatchState.DISPERSED, BatchState.RUNNING):
            raise WrongState(f"{batch} is “{batch.state}”; cylinders start after mixing and filling.")
        self.open_bench("cylinders do not start", states=(batch.state,), by=by)
        if self.first_started_at is not None:
            raise AlreadyThere(
                f"Cylinder {self.cylinder.serial} already started at "
                f"{timezone.localtime(self.first_started_at):%H:%M:%S}; the first start stays. "
                "If it was stirred again, say so: that makes a new zero."
            )
        self.require_past(started_at, at)
        if batch.dispersed_at is not None and started_at < batch.dispersed_at:
            raise NotPossible(
                f"A start at {timezone.localtime(started_at):%Y-%m-%d %H:%M} would lie before "
                "the cylinders were filled."
            )
        start = RunStart.objects.create(
            run=self, started_at=started_at, source=source, entry=entry, by=by, at=at
        )
        if batch.state == BatchState.DISPERSED:
            batch.transition(BatchState.RUNNING, by=by, at=at)
        return start

    def require_past(self, moment: datetime, at: datetime) -> None:
        ahead = moment - at
        if ahead > CLOCK_TOLERANCE:
            raise NotPossible(
                f"That would be {ahead.total_seconds():.0f} s after the laboratory's clock "
                f"({timezone.localtime(at):%Y-%m-%d %H:%M:%S}). "
                "Check the start time, the elapsed time and the tablet's clock."
            )

    def require_readable(
        self, elapsed_s: float, at: datetime, counted_from: datetime | None = None
    ) -> datetime:
        """
        When a reading at `elapsed_s` was taken, or why it cannot be.

        `counted_from` is the zero of whoever counted: a tablet may not know yet of a second stirring.
        """
        started_at, serial = self.started_at, self.cylinder.serial
        if started_at is None:
            raise WrongState(f"Cylinder {serial} has not been started.")
        if counted_from is not None and abs(started_at - counted_from) > SAME_ZERO:
            raise NotPossible(
                f"This time counts from {timezone.localtime(counted_from):%H:%M:%S}, but cylinder {serial} "
                f"counts from {timezone.localtime(started_at):%H:%M:%S}. "
                "Look whether it was stirred again, and take the reading anew."
            )
        taken_at = started_at + timedelta(seconds=elapsed_s)
        self.require_past(taken_at, at)
        return taken_at

    @property
    def current_readings(self) -> list[Reading]:
        """The reading that counts for each slot, in order of the schedule."""
        again = self.replunge
        since = [r for r in self.readings.all() if r.replunge_id == (again.pk if again else None)]
        return list({r.slot_s: r for r in sorted(since, key=lambda r: (r.slot_s, r.attempt))}.values())

    @property
    def void(self) -> RunVoid | None:
        """The act that makes the run void, unless it was lifted."""
        return next((each for each in self.voids.all() if not hasattr(each, "lifted")), None)

    @property
    def is_void(self) -> bool:
        return self.void is not None

    def missing_slots(self) -> list[int]:
        """Slots that hold neither a reading nor a reason for its absence; a void run is read no further."""
        if self.is_void:
            return []
        have = {reading.slot_s for reading in self.current_readings}
        return [int(s) for s in self.batch.method.edition.schedule_s if int(s) not in have]

    @property
    def result(self) -> Result | None:
        """The result that belongs to the request in force; None while that one is being computed."""
        request = self.requests.order_by("-turn").first()
        return None if request is None else self.results.filter(request=request).first()
