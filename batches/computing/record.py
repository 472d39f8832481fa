"""Gathers what was measured on one run into the record the arithmetic takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from math import inf
from typing import Any

from django.db.models import Prefetch, QuerySet, prefetch_related_objects

from batches.balance.models import Purpose
from batches.bench.blank import standing_blank_readings
from batches.bench.models import BlankReading as ExtraReading
from batches.bench.models import Observation, Reading, Replunge
from batches.computing.models import Flag, Result
from batches.corrections.models import DensityCorrection, MassCorrection, density_in_force, masses_in_force_g
from batches.exchanging.arrangement import Arrangement, arrangement_of
from batches.planning.freshness import DoneInBatch
from batches.planning.models import Batch, Run
from batches.quality.models import PairReview
from batches.review.models import RunDecision
from batches.voiding.models import RunVoid
from particles.distribution import (
    BlankReading,
    Correction,
    ReadingPoint,
    ReadingState,
    RunRecord,
    Seen,
    Sieving,
    Sight,
)
from particles.distribution import SieveMass as SieveMassRecord
from particles.models import Portion, Preparation
from particles.preparation.field_texture import felt_clayey

FARTHEST_BLANK_S = 2 * 3600.0
"""A blank read farther away in time is no blank for this reading, in an edition whose blank goes by minutes and not by
physics. *Common practice*."""


@dataclass(frozen=True)
class GatheredRun:
    """A sample's run with its record, taken together with its neighbours."""

    run: Run
    record: RunRecord
    complete: bool
    """Whether every slot of this run and of the blank holds a reading or a reason."""
    blank: Run
    """The run of the blank, with all that was fetched for its neighbours."""
    arrangement: Arrangement
    """Which records count for which run of the batch."""


def gather(run: Run, arrangement: Arrangement | None = None) -> RunRecord:
    """
    The record of a sample's run as it stands now, with the readings the exchanges in force give it.

    Missed slots are passed on as missed, those left out are not passed on. Each reading stands beside the blank
    reading nearest to it in time, with that blank's own temperature; where the edition goes by physics, every reading
    of the blank comes along and serves.
    """
    return _record(run, run.batch.blank, arrangement or arrangement_of(run.batch))


def gather_batch(batch: Batch, done: DoneInBatch | None = None) -> list[GatheredRun]:
    """
    Every sample's run in the order of the cylinders; the number of queries does not grow with them.

    Parameters
    ----------
    done : what was counted in the batch before; then nothing is asked for that is not there.
    """
    runs = _runs_with_everything(batch, done)
    _share_first_portions(runs)
    [blank] = [run for run in runs if run.is_blank]
    arrangement = arrangement_of(batch, done).knowing(runs)
    blank_complete = not arrangement.missing(blank)
    return [
        GatheredRun(
            run,
            _record(run, blank, arrangement),
            blank_complete and not arrangement.missing(run),
            blank,
            arrangement,
        )
        for run in runs
        if not run.is_blank
    ]


def _runs_with_everything(batch: Batch, done: DoneInBatch | None) -> list[Run]:
    """Runs of the plan with all that was recorded at them."""

    def there(lookup: str, rows: QuerySet[Any]) -> Prefetch[Any]:
        return Prefetch(lookup, rows if done is None or done.holds(rows.model) else rows.none())

    results = Result.objects.order_by("pk").prefetch_related(
        Prefetch("flags", Flag.objects.select_related("review")),
        there("decisions", RunDecision.objects.all()),
        there("pair_reviews", PairReview.objects.all()),
    )
    return list(
        batch.runs.in_plan()
        .select_related(
            "cylinder",
            "run_start",
            "portion__sample__job__client",
            "portion__pretreatment",
            "portion__duplicate_of",
        )
        .prefetch_related(
            "readings",
            there("voids", RunVoid.objects.select_related("lifted")),
            there("replunges", Replunge.objects.all()),
            there("observations", Observation.objects.select_related("taken_back_by")),
            there("blank_readings", ExtraReading.objects.all()),
            "portion__weighings",
            there("portion__mass_corrections", MassCorrection.objects.all()),
            "portion__sieve_masses",
            there("portion__density_corrections", DensityCorrection.objects.all()),
            "portion__sample__preparations",
            "portion__sample__pretreatment_decisions",
            Prefetch("results", results),
        )
        .order_by("position")
    )


def _share_first_portions(runs: list[Run]) -> None:
    """Let a duplicate's first portion be the one that stands beside it, with all that was fetched for it."""
    portions = {run.portion.pk: run.portion for run in runs if run.portion is not None}
    duplicates = [each for each in portions.values() if each.duplicate_of_id]
    for each in duplicates:
        if (beside := portions.get(each.duplicate_of.pk)) is not None:
            each.duplicate_of = beside
    elsewhere = [each.duplicate_of for each in duplicates if each.duplicate_of_id not in portions]
    prefetch_related_objects(elsewhere, "density_corrections")


def _record(run: Run, blank: Run, arrangement: Arrangement) -> RunRecord:
    portion, batch = run.portion, run.batch
    assert portion is not None, "the blank is not a run of its own"
    masses = masses_in_force_g(portion)
    correction_c = float(batch.thermometer.correction_c)
    blanks = [r for r in arrangement.readings(blank) if r.state == ReadingState.READ]
    volume_ml = float(arrangement.cylinder_of(run).cylinder.volume_ml)
    read, of_blank = arrangement.readings(run), arrangement.cylinder_of(blank)
    by_physics = batch.method.edition.blank_by_physics
    farthest_s = inf if by_physics else FARTHEST_BLANK_S
    preparation = preparation_in_force(portion, batch)
    decision, density = portion.decision, density_in_force(portion)
    pretreated = decision.removes_anything
    return RunRecord(
        label=run.title,
        hydrometer=batch.hydrometer.as_measured(),
        readings=tuple(_point(r, blanks, correction_c, farthest_s) for r in read),
        correction=Correction(batch.method.edition.correction),
        oven_dry_mass_g=masses.get(Purpose.PRETREATED) if pretreated else None,
        air_dry_mass_g=None if pretreated else masses.get(Purpose.PORTION),
        moisture_pct=None if pretreated else moisture_pct(masses),
        particle_density_g_cm3=float(density.particle_density_g_cm3),
        particle_density_measured=density.particle_density_measured,
        particle_density_document=density.density_document or "",
        particle_density_weighings=density.pycnometer,
        dispersant_g_l=batch.lot.in_cylinder_g_l(volume_ml),
        volume_ml=volume_ml,
        sieving=_sieving(arrangement.sieved_of(run)),
        gravel_pct=preparation.gravel_pct if preparation else None,
        field_clayey=felt_clayey(decision.field_texture),
        seen=(*_seen(run, arrangement, at_blank=False), *_seen(blank, arrangement, at_blank=True)),
        void=_void(run, blank, arrangement),
        between_run_sd_pct=None if batch.between_run_sd_pct is None else float(batch.between_run_sd_pct),
        between_run_sand=batch.between_run_of("sand"),
        between_run_clay=batch.between_run_of("clay"),
        between_run_pairs=batch.between_run_pairs,
        blanks=_served(read, [*blanks, *standing_blank_readings(of_blank)], correction_c)
        if by_physics
        else (),
        blank_dispersant_g_l=_in_blank_g_l(volume_ml, of_blank, batch) if by_physics else None,
    )


def _in_blank_g_l(of_run_ml: float, blank: Run, batch: Batch) -> float | None:
    """Dispersant in the blank's cylinder; None where it holds as much as the run's. [g/L]"""
    volume_ml = float(blank.cylinder.volume_ml)
    return None if volume_ml == of_run_ml else batch.lot.in_cylinder_g_l(volume_ml)


def _served(
    read: list[Reading], blanks: list[Reading | ExtraReading], correction_c: float
) -> tuple[BlankReading, ...]:
    """Every reading of the blank, counted from the time zero of a run, in order of time."""
    zero = next(
        (r.taken_at - timedelta(seconds=float(r.elapsed_s)) for r in read if r.taken_at and r.elapsed_s), None
    )
    if zero is None:
        return ()
    return tuple(
        BlankReading(
            (b.taken_at - zero).total_seconds(),
            float(b.temperature_c) + correction_c,
            float(b.reading),
            float(b.slot_s) if isinstance(b, Reading) else None,
        )
        for b in sorted(blanks, key=lambda each: (each.taken_at is None, each.taken_at))
        if b.taken_at is not None and b.temperature_c is not None and b.reading is not None
    )


def _seen(run: Run, arrangement: Arrangement, *, at_blank: bool) -> Iterator[Seen]:
    """Observations that stand: neither taken back nor themselves a taking back."""
    for each in sorted(arrangement.observations(run), key=lambda observation: observation.pk):
        if each.takes_back_id is None and not hasattr(each, "taken_back_by"):
            slot_s = None if each.slot_s is None else float(each.slot_s)
            yield Seen(Sight(each.what), slot_s, at_blank, each.note)


def _void(run: Run, blank: Run, arrangement: Arrangement) -> str:
    of_run, of_blank = arrangement.void(run), arrangement.void(blank)
    if of_run is not None:
        return of_run.in_words
    return "" if of_blank is None else f"its blank is void, {of_blank.in_words}"


def preparation_in_force(portion: Portion, batch: Batch) -> Preparation | None:
    """
    The newest preparation of the portion's sample, or the newest before the signature of a signed batch.

    A signed batch rests on what was recorded when it was signed, also when the bag is prepared on for another
    portion.
    """
    signed_at = batch.approved_at
    known = (p for p in portion.sample.preparations.all() if signed_at is None or p.at <= signed_at)
    return max(known, key=lambda each: each.pk, default=None)


def moisture_pct(masses_g: dict[str, float]) -> float | None:
    """Air-dry moisture on oven-dry basis from the three weighings of the tin; None while one is missing. [%]"""
    tin, air_dry, oven_dry = (
        masses_g.get(p) for p in (Purpose.TIN, Purpose.TIN_AIR_DRY, Purpose.TIN_OVEN_DRY)
    )
    if tin is None or air_dry is None or oven_dry is None:
        return None
    return 100 * (air_dry - oven_dry) / (oven_dry - tin)


def _point(
    reading: Reading, blanks: list[Reading], correction_c: float, farthest_s: float = FARTHEST_BLANK_S
) -> ReadingPoint:
    if reading.taken_at is None or reading.elapsed_s is None or reading.temperature_c is None:
        return ReadingPoint(elapsed_s=float(reading.slot_s), temperature_c=None, state=ReadingState.MISSED)
    taken_at = reading.taken_at

    def gap_s(blank: Reading) -> float:
        assert blank.taken_at is not None
        return abs((blank.taken_at - taken_at).total_seconds())

    nearest = min(blanks, key=gap_s, default=None)
    blank = nearest if nearest is not None and gap_s(nearest) <= farthest_s else None
    return ReadingPoint(
        elapsed_s=float(reading.elapsed_s),
        temperature_c=float(reading.temperature_c) + correction_c,
        state=ReadingState(reading.state),
        reading=None if reading.reading is None else float(reading.reading),
        blank_reading=None if blank is None or blank.reading is None else float(blank.reading),
        blank_temperature_c=None
        if blank is None or blank.temperature_c is None
        else float(blank.temperature_c) + correction_c,
        blank_gap_s=None if blank is None else gap_s(blank),
        blank_number=None if blank is None else blanks.index(blank),
        time_doubt="" if reading.time_doubt is None else str(reading.get_time_doubt_display()),
        time_doubt_s=None if reading.time_doubt_s is None else float(reading.time_doubt_s),
    )


def _sieving(portion: Portion | None) -> Sieving | None:
    if portion is None:
        return None
    masses = masses_in_force_g(portion)
    newest: dict[float, float] = {}
    for mass in sorted(portion.sieve_masses.all(), key=lambda each: (-each.opening_um, each.attempt)):
        newest[float(mass.opening_um)] = float(mass.retained_g)
    washed, pan = masses.get(Purpose.WASHED_SAND), masses.get(Purpose.PAN)
    if not newest or washed is None or pan is None:
        return None
    return Sieving(
        washed_dry_mass_g=washed,
        sieves=tuple(SieveMassRecord(opening, retained) for opening, retained in newest.items()),
        pan_g=pan,
    )
