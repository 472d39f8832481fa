from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

import pgtrigger
from django.conf import settings
from django.db import models, transaction
from django.db.models import F, OuterRef, Q, Subquery
from django.utils import timezone

from batches.models.equipment import Cylinder, DispersantLot, HydrometerRecord, Thermometer
from particles.models import MethodEditionRecord, NumberSeries, Portion, Preparation, SampleState
from particles.models.history import Move, allowed_moves, audited, change_state, never_changed, never_deleted
from particles.refusals import NotPossible, NotThisPerson, WrongState

if TYPE_CHECKING:
    from batches.models.run import Run
    from batches.models.taken_out import TakenOut


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

LARGEST_BATCH = 24

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
        if not 1 <= len(portions) < LARGEST_BATCH:
            raise NotPossible(
                f"A batch holds 1 to {LARGEST_BATCH - 1} portions and a blank, not {len(portions)}."
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
        from batches.models.pair import own_spread

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
        from batches.models.taken_out import TakenOut

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
        from batches.models.reading import Reading
        from batches.models.replunge import Replunge

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
        from batches.models.reading import Reading
        from batches.models.replunge import Replunge
        from batches.models.run import RunStart
        from batches.models.seen import Observation, RunVoid
        from batches.models.superseding import DensityCorrection, FillingCorrection
        from batches.models.taken_out import TakenOut
        from batches.models.weighing import SieveMass, Weighing

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
