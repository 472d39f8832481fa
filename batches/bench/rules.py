"""Rules for the acts at a cylinder, and what is on record of one: time zero, readings, missing slots."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth import get_user_model
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from batches.bench.instruments import require_fit, why_unfit
from batches.bench.models import COLDEST_C, WARMEST_C, HandedIn, Observation, Reading, Replunge, RunStart
from batches.entries.models import Entry
from batches.equipment.models import Cylinder, HydrometerRecord, Instrument, Thermometer
from batches.planning.four_eyes import acts_of, has_reviewed
from batches.planning.models import NOTED_IN, OPEN_FOR_READINGS, Batch, BatchState, Run, TakenOut
from batches.voiding.models import RunVoid, is_void, not_void
from particles.distribution import HydrometerScale, Sight
from particles.distribution.possible import RELATIVE_DENSITY_POSSIBLE
from particles.distribution.spoken import spoken_time
from particles.records.act import Side, done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState
from particles.records.written_once import WrittenOnce

CLOCK_TOLERANCE = timedelta(seconds=5)
"""How far a tablet may seem ahead of the laboratory's clock before its times are refused."""
STANDS_ALREADY = "has a reading for this time already"
"""Words of the refusal of a second value, by which those that wait for a choice are found."""
SAME_ZERO = timedelta(seconds=2)
"""With a larger difference, two tablets count from different moments."""


def first_started_at(run: Run) -> datetime | None:
    """The moment the cylinder was first started; None before that."""
    start: RunStart | None = getattr(run, "run_start", None)
    return None if start is None else start.started_at


def newest_stirring(run: Run) -> Replunge | None:
    """The newest time zero, when the cylinder was stirred again; None while the first start counts."""
    return max(run.replunges.all(), key=lambda each: each.turn, default=None)


def time_zero(run: Run) -> datetime | None:
    """Time zero of the readings that count; None before the start."""
    again = newest_stirring(run)
    return first_started_at(run) if again is None else again.started_at


def current_readings(run: Run) -> list[Reading]:
    """The reading that counts for each slot, in order of the schedule."""
    again = newest_stirring(run)
    since = [r for r in run.readings.all() if r.replunge_id == (again.pk if again else None)]
    return list({r.slot_s: r for r in sorted(since, key=lambda r: (r.slot_s, r.attempt))}.values())


def missing_slots(run: Run) -> list[int]:
    """Slots that hold neither a reading nor a reason for its absence; a void run is read no further."""
    if is_void(run):
        return []
    have = {reading.slot_s for reading in current_readings(run)}
    return [int(s) for s in run.batch.method.edition.schedule_s if int(s) not in have]


def is_read(batch: Batch) -> bool:
    """Whether every slot of every cylinder that is not void holds a reading or a reason."""
    slots, standing = len(batch.method.edition.schedule_s), not_void(batch.runs.in_plan())
    newest = Replunge.objects.filter(run=OuterRef("run")).order_by("-turn").values("pk")[:1]
    of_zero = Reading.objects.filter(run__in=standing).annotate(zero=Subquery(newest))
    counts = of_zero.filter(Q(replunge=F("zero")) | Q(replunge__isnull=True, zero__isnull=True))
    return counts.values("run", "slot_s").distinct().count() == slots * standing.count()


@dataclass(frozen=True)
class Held:
    """One attempt at a slot that is on record at a cylinder, as far as the next reading is held against it."""

    slot_s: int
    attempt: int
    elapsed_s: Decimal | None


@dataclass(frozen=True)
class OpenCylinder:
    """A cylinder of a locked batch that takes something now, with what the next reading is held against."""

    batch: Batch
    serial: str
    first_started_at: datetime | None
    stirring: int | None
    """The newest second stirring; None while the first start counts."""
    time_zero: datetime | None
    """Time zero of the readings that count; None before the start."""
    held: tuple[Held, ...]
    """Every attempt since that zero, in order of slots and attempts."""
    instruments: tuple[Instrument, ...]
    """Hydrometer, thermometer and cylinder with their checks as they are on record now, and nothing else of them."""

    @property
    def slots(self) -> set[int]:
        """The slots of the schedule. [s]"""
        return {int(s) for s in self.batch.method.edition.schedule_s}

    def leaves_open(self, *just_filled: int) -> bool:
        """
        Whether no run can be complete after these slots were filled: the batch is read for the first time and this
        cylinder has slots without a reading. Until every cylinder was read to its end nothing is exchanged or left out,
        so its own readings tell.
        """
        filled = {each.slot_s for each in self.held} | set(just_filled)
        return self.batch.state == BatchState.RUNNING and not self.slots <= filled


def open_bench(run: Run, what: str, *, states: tuple[str, ...], by: Person) -> OpenCylinder:
    """Lock the batch of a run that `by` may add to now, or refuse; `what` is what does not happen otherwise."""
    batch = run.batch = Batch.locked(run.batch_id)
    if batch.state not in states:
        raise WrongState(f"{batch} is “{batch.state}”; {what} now.{batch.instead_of_changing}")
    # Asked after the lock: a waiting statement would still see the time before it waited.
    rows = _ON_RECORD(run=run.pk, person=by.pk)
    first = rows[0]
    if first["reviews"] and has_reviewed(by, batch):
        raise NotThisPerson(
            f"{by} has reviewed flags or figures of {batch} and reads nothing in it any more."
        )
    if first["out"]:
        out = TakenOut.objects.select_related("by").get(run=run)
        raise WrongState(f"{run} was taken out of the plan by {out.by}: {out.reason}")
    if first["void"]:
        void = run.voids.filter(lifted__isnull=True)[0]
        raise WrongState(f"Cylinder {run.cylinder.serial} is void: {void.in_words}. Nothing is added to it.")
    batch.hydrometer = HydrometerRecord.calibrated(batch.hydrometer_id)
    held = (
        Held(each["readings__slot_s"], each["readings__attempt"], each["readings__elapsed_s"])
        for each in rows
        if each["readings__slot_s"] is not None and each["readings__replunge"] == first["stirring"]
    )
    return OpenCylinder(
        batch=batch,
        serial=run.cylinder.serial,
        first_started_at=first["run_start__started_at"],
        stirring=first["stirring"],
        time_zero=first["stirred_at"] or first["run_start__started_at"],
        held=tuple(sorted(held, key=lambda each: (each.slot_s, each.attempt))),
        instruments=tuple(
            kind(**{name: first[f"{path}__{name}"] for name in CHECKED})
            for path, kind in AT_A_CYLINDER.items()
        ),
    )


CHECKED = ("serial", "due_on", "withdrawn_on", "withdrawn_reason")
AT_A_CYLINDER: dict[str, type[Instrument]] = {
    "batch__hydrometer": HydrometerRecord,
    "batch__thermometer": Thermometer,
    "cylinder": Cylinder,
}
"""The instruments at a cylinder, by the way to them from its run."""


def _on_record(run: int, person: int) -> QuerySet[Run, dict[str, Any]]:
    """All that is asked of a cylinder before something is added: a row for each of its readings, or one without any."""
    stirrings = Replunge.objects.filter(run=run).order_by("-turn")
    asked = Run.objects.filter(pk=run).annotate(
        reviews=acts_of(person, Side.REVIEW),
        out=Exists(TakenOut.objects.filter(run=run)),
        void=Exists(RunVoid.objects.filter(run=run, lifted__isnull=True)),
        stirring=Subquery(stirrings.values("pk")[:1]),
        stirred_at=Subquery(stirrings.values("started_at")[:1]),
    )
    of_run = ("reviews", "out", "void", "stirring", "stirred_at", "run_start__started_at")
    of_reading = ("readings__slot_s", "readings__attempt", "readings__elapsed_s", "readings__replunge")
    checks = (f"{path}__{name}" for path in AT_A_CYLINDER for name in CHECKED)
    return asked.order_by().values(*of_run, *of_reading, *checks)


_ON_RECORD = WrittenOnce(_on_record, run=-1, person=-2)


def require_past(moment: datetime, at: datetime) -> None:
    """Refuse a moment that lies further ahead of the laboratory's clock than a tablet's clock may be off."""
    ahead = moment - at
    if ahead > CLOCK_TOLERANCE:
        raise NotPossible(
            f"That would be {ahead.total_seconds():.0f} s after the laboratory's clock "
            f"({timezone.localtime(at):%Y-%m-%d %H:%M:%S}). "
            "Check the start time, the elapsed time and the tablet's clock."
        )


def require_readable(
    cylinder: OpenCylinder, elapsed_s: float, at: datetime, counted_from: datetime | None = None
) -> datetime:
    """
    The moment of a reading at `elapsed_s`; refuses one that cannot have been taken then.

    `counted_from` is the zero of whoever counted: a tablet may not know yet of a second stirring.
    """
    started_at, serial = cylinder.time_zero, cylinder.serial
    if started_at is None:
        raise WrongState(f"Cylinder {serial} has not been started.")
    if counted_from is not None and abs(started_at - counted_from) > SAME_ZERO:
        raise NotPossible(
            f"This time counts from {timezone.localtime(counted_from):%H:%M:%S}, but cylinder {serial} "
            f"counts from {timezone.localtime(started_at):%H:%M:%S}. "
            "Look whether it was stirred again, and take the reading anew."
        )
    taken_at = started_at + timedelta(seconds=elapsed_s)
    require_past(taken_at, at)
    return taken_at


def record_start(
    run: Run, *, started_at: datetime, source: str, entry: Any, by: Person, at: datetime
) -> RunStart:
    """Record the start of a cylinder, when the plunger left the liquid: time zero. The first start stays."""
    batch = Batch.locked(run.batch_id)
    if batch.state not in (BatchState.DISPERSED, BatchState.RUNNING):
        raise WrongState(f"{batch} is “{batch.state}”; cylinders start after mixing and filling.")
    cylinder = open_bench(run, "cylinders do not start", states=(batch.state,), by=by)
    first = RunStart.objects.filter(run=run).select_related("by").first()
    if first is not None:
        raise AlreadyThere(
            f"Cylinder {run.cylinder.serial} already started at "
            f"{timezone.localtime(first.started_at):%H:%M:%S}, by {first.by}; the first start stays. "
            "If it was stirred again, say so: that makes a new zero."
        )
    require_past(started_at, at)
    if batch.dispersed_at is not None and started_at < batch.dispersed_at:
        raise NotPossible(
            f"A start at {timezone.localtime(started_at):%Y-%m-%d %H:%M} would lie before "
            "the cylinders were filled."
        )
    require_fit(cylinder.instruments, cylinder.serial, started_at, "starts")
    start = RunStart.objects.create(
        run=run, started_at=started_at, source=source, entry=entry, **done(by, at)
    )
    if batch.state == BatchState.DISPERSED:
        batch.transition(BatchState.RUNNING, by=by, at=at)
    return start


def record_stirring(
    run: Run,
    *,
    started_at: datetime,
    reason: str,
    voids: int,
    source: str,
    entry: Any,
    by: Person,
    at: datetime,
) -> Replunge:
    """Record a second stirring, a new time zero; `voids` is the number of readings it was said to make void."""
    cylinder = open_bench(run, "no cylinder is stirred again", states=(BatchState.RUNNING,), by=by)
    _require_later_than_zero(run, started_at)
    if not missing_slots(run):
        raise NotPossible(
            f"Every slot of cylinder {run.cylinder.serial} is filled. Its run stands; "
            "repeat the sample with a new portion."
        )
    require_past(started_at, at)
    require_fit(cylinder.instruments, cylinder.serial, started_at, "is stirred again")
    _require_voids_shown(run, current_readings(run), started_at, voids)
    last = newest_stirring(run)
    return Replunge.objects.create(
        run=run,
        turn=last.turn + 1 if last else 2,
        started_at=started_at,
        reason=reason,
        source=source,
        entry=entry,
        **done(by, at),
    )


def _require_later_than_zero(run: Run, started_at: datetime) -> None:
    before, serial = time_zero(run), run.cylinder.serial
    if before is None:
        raise WrongState(f"Cylinder {serial} has not been started: tap START.")
    if started_at <= before:
        raise NotPossible(
            f"Cylinder {serial} counts from {timezone.localtime(before):%Y-%m-%d %H:%M:%S} already; "
            "stirring again comes after that."
        )


def _require_voids_shown(run: Run, held: list[Reading], started_at: datetime, voids: int) -> None:
    """Refuse a stirring that would make void more readings than the person was shown, or one taken after it."""
    serial = run.cylinder.serial
    if len(held) > voids:
        raise NotPossible(
            f"{len(held)} readings of cylinder {serial} would become void, not {voids}. "
            "Somebody else has read it meanwhile: look, and say it again."
        )
    late = [reading for reading in held if reading.taken_at is not None and reading.taken_at > started_at]
    if late:
        raise NotPossible(
            f"The {spoken_time(late[0].slot_s)} reading of cylinder {serial} was taken after this stirring, by "
            f"{late[0].by}. "
            "Which of the two times is right?"
        )


def record_reading(
    run: Run,
    *,
    slot_s: int,
    state: str,
    reading: Decimal | None,
    elapsed_s: Decimal | None,
    temperature_c: Decimal | None,
    source: str,
    reason: str,
    entry: Any,
    by: Person,
    at: datetime,
    counted_from: datetime | None = None,
    time_doubt: str | None = None,
    time_doubt_s: Decimal | None = None,
) -> tuple[str, bool]:
    """
    Store one reading of a running cylinder, or say why it cannot be.

    Returns what was wrong with its instruments, and whether a run may be complete by it.

    `counted_from` is the time zero a tablet took the elapsed time from.
    """
    cylinder = open_bench(run, "no readings are taken", states=OPEN_FOR_READINGS, by=by)
    batch = cylinder.batch
    if slot_s not in cylinder.slots:
        raise NotPossible(f"{spoken_time(slot_s)} is not a time of “{batch.method}”.")
    taken_at = None
    if elapsed_s is not None:
        taken_at = require_readable(cylinder, float(elapsed_s), at, counted_from)
    if temperature_c is not None:
        require_possible_temperature(temperature_c)
    if reading is not None:
        require_on_stem(batch.hydrometer, reading)
    if elapsed_s is not None:
        _require_in_order(cylinder, slot_s, elapsed_s)
    attempts = [each.attempt for each in cylinder.held if each.slot_s == slot_s]
    if attempts and not reason:
        earlier = _reading(run, cylinder, slot_s=slot_s, attempt=attempts[-1])
        raise AlreadyThere(
            f"Cylinder {run.cylinder.serial} {STANDS_ALREADY}: {earlier.in_words}, by {earlier.by}. It counts until "
            "another one is chosen on “From paper, corrections”, with the reason; both stay on record."
        )
    unfit = "" if taken_at is None else why_unfit(cylinder.instruments, taken_at)
    Reading.objects.create(
        run=run,
        replunge_id=cylinder.stirring,
        slot_s=slot_s,
        attempt=attempts[-1] + 1 if attempts else 1,
        state=state,
        reading=reading,
        elapsed_s=elapsed_s,
        temperature_c=temperature_c,
        taken_at=taken_at,
        time_doubt=time_doubt,
        time_doubt_s=time_doubt_s,
        hydrometer_id=batch.hydrometer_id,
        thermometer_id=batch.thermometer_id,
        unfit=unfit or None,
        source=source,
        reason=reason,
        entry=entry,
        **done(by, at),
    )
    if cylinder.leaves_open(slot_s):
        return unfit, False
    if batch.state == BatchState.RUNNING and is_read(batch):
        batch.transition(BatchState.READINGS_COMPLETE, by=by, at=at)
    return unfit, True


def _reading(run: Run, cylinder: OpenCylinder, *, slot_s: int, attempt: int) -> Reading:
    """One attempt at a slot since time zero, as it is on record."""
    of_zero = Reading.objects.filter(run=run, replunge=cylinder.stirring)
    return of_zero.select_related("by").get(slot_s=slot_s, attempt=attempt)


def _require_in_order(cylinder: OpenCylinder, slot_s: int, elapsed_s: Decimal) -> None:
    """A later slot cannot have been read before an earlier one."""
    newest = {each.slot_s: each for each in cylinder.held}
    for other in newest.values():
        if other.elapsed_s is None or other.slot_s == slot_s:
            continue
        if (other.slot_s < slot_s) != (other.elapsed_s < elapsed_s):
            raise NotPossible(
                f"{elapsed_s} s for the {spoken_time(slot_s)} reading contradicts {other.elapsed_s} s for the "
                f"{spoken_time(other.slot_s)} reading. Check both times and the cylinder."
            )


def require_possible_temperature(temperature_c: Decimal) -> None:
    """Refuse a temperature at which the water formulas do not hold."""
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        hint = " That looks like Fahrenheit." if 50 <= temperature_c <= 104 else ""
        raise NotPossible(
            f"{temperature_c} °C lies outside {COLDEST_C} to {WARMEST_C} °C.{hint} Read the thermometer again."
        )


def _looks_like_relative_density(reading: Decimal) -> bool:
    """A 152H is read to half a gram per litre: three decimals around 1 were read on the other scale."""
    exponent = reading.as_tuple().exponent
    return reading in RELATIVE_DENSITY_POSSIBLE and isinstance(exponent, int) and exponent <= -3


def require_on_stem(hydrometer: HydrometerRecord, reading: Decimal) -> None:
    """Refuse a number that is not on the stem of the hydrometer, or of another scale."""
    if hydrometer.scale == HydrometerScale.GRAMS_PER_LITRE and _looks_like_relative_density(reading):
        raise NotPossible(
            f"{reading} is a relative density; {hydrometer} is graduated in g/L. Which one was read?"
        )
    low, high = hydrometer.scale_minimum, hydrometer.scale_maximum
    if low <= reading <= high:
        return
    raise NotPossible(
        f"{reading} is not on the stem of {hydrometer} ({low.normalize():f} to {high.normalize():f}). "
        "If the liquid stood above the scale, record “above scale”."
    )


def record_observation(
    run: Run,
    *,
    what: str,
    slot_s: int | None,
    note: str,
    seen_at: datetime,
    takes_back: Observation | None,
    entry: Any,
    by: Person,
    at: datetime,
) -> Observation:
    """Keep what was seen, or take an earlier observation back."""
    batch = open_bench(run, "nothing is noted", states=NOTED_IN, by=by).batch
    require_past(seen_at, at)
    if slot_s is not None and slot_s not in {int(s) for s in batch.method.edition.schedule_s}:
        raise NotPossible(f"{spoken_time(slot_s)} is not a time of “{batch.method}”.")
    if what == Sight.DOUBTFUL and slot_s is None:
        raise NotPossible("Say which reading is doubtful.")
    if takes_back is not None:
        _require_takable(takes_back, run, what)
    return Observation.objects.create(
        run=run,
        what=what,
        slot_s=slot_s,
        note=note,
        seen_at=seen_at,
        takes_back=takes_back,
        entry=entry,
        **done(by, at),
    )


def _require_takable(earlier: Observation, run: Run, what: str) -> None:
    if earlier.run_id != run.pk or earlier.what != what or earlier.takes_back_id is not None:
        raise NotPossible(f"“{earlier}” is not what is being taken back here.")
    if hasattr(earlier, "taken_back_by"):
        raise NotPossible(f"“{earlier}” was taken back already, by {earlier.taken_back_by.by}.")


def hand_in(entry: Entry, *, by: Person, at: datetime) -> None:
    """Keep who handed in an entry that somebody else took; sending it again keeps the first witness."""
    named = str(entry.content.get("run", ""))
    run = Run.objects.filter(pk=named).first() if re.fullmatch(r"[0-9]{1,9}", named) else None
    HandedIn.objects.get_or_create(entry=entry, defaults={"run": run, **done(by, at)})


def may_have_taken(person_pk: object) -> Person | None:
    """Who a tablet says took an entry, when that person may stand at the bench; else None."""
    if not isinstance(person_pk, int) or isinstance(person_pk, bool):
        return None
    found = get_user_model()._default_manager.filter(pk=person_pk).first()
    return found if found is not None and found.has_perm("batches.read") else None
