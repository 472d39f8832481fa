"""
The QA officer puts records right: exchanged between cylinders, left out, a wrong mass replaced.

Each is an act with a reason, and so is taking it back; what was recorded stays. The figures are computed anew at
once, also under review, and whoever put something right cannot sign the batch any more.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.db import transaction

from batches.balance.models import LARGEST_PORTION_G, SMALLEST_PORTION_G, Purpose
from batches.bench.models import Reading
from batches.computing.rules import ask_under_review
from batches.corrections.models import MassCorrection, mass_in_words, newest_weighing
from batches.exchanging.arrangement import Arrangement, arrangement_of
from batches.exchanging.models import PUT_RIGHT_IN, Exchange, ExchangeUndone, LeftOut, LeftOutLifted
from batches.planning.freshness import require_current
from batches.planning.models import Batch, Run
from particles.distribution import HydrometerScale
from particles.distribution.settling.hydrometer import soil_per_scale_unit_g_l
from particles.distribution.spoken import spoken_time
from particles.models import Portion
from particles.records.act import ReasonedAct, done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState
from particles.records.sentence import HOW_TO_SAY, is_a_sentence, names_a_thing

NOTHING = "Nothing was put right."


def exchange(
    first: Run,
    second: Run,
    *,
    from_slot_s: int | None = None,
    until_slot_s: int | None = None,
    with_sieve_masses: bool = False,
    reason: str,
    by: Person,
    at: datetime,
    seen: str | None = None,
) -> Exchange:
    """
    Exchange what was recorded at two cylinders of one batch: everything, the readings from a slot on, or one reading.

    The same sent twice by one person is one exchange. `with_sieve_masses` also exchanges what was washed out of the
    cylinders; that goes with everything alone. `seen` is the version of the page, as in every act here.
    """
    with transaction.atomic():
        batch = _opened(first.batch, by=by, reason=reason)
        _require_sentence(reason)
        _require_two_runs(first, second)
        wanted = Exchange(
            first=first,
            second=second,
            from_slot_s=from_slot_s,
            until_slot_s=until_slot_s,
            with_sieve_masses=with_sieve_masses,
            reason=reason.strip(),
            **done(by, at),
        )
        arrangement = arrangement_of(batch)
        sent_twice = _same_as_the_last(wanted, arrangement)
        if sent_twice is not None:
            return sent_twice
        require_current(batch, seen, by=by, nothing=NOTHING)
        _require_exchangeable(wanted, arrangement)
        wanted.save(force_insert=True)
        ask_under_review(batch, by=by, at=at)
        return wanted


def _opened(batch: Batch, *, by: Person, reason: str) -> Batch:
    """Lock the batch, or refuse: by anybody but an officer, without a reason, or when it takes nothing of this now."""
    if not by.has_perm("batches.review"):
        raise NotThisPerson(f"{by} is not authorised to put records right; the QA officer is.")
    locked = batch.lock()
    if locked.state not in PUT_RIGHT_IN:
        raise WrongState(
            f"{locked} is “{locked.state}”; nothing is put right in it now. "
            "One that is read to the end, returned, under review or re-opened can be."
            f"{locked.instead_of_changing}"
        )
    if not reason.strip():
        raise NotPossible("Say why; what was recorded and what takes its place both stay.")
    return locked


Made = TypeVar("Made", bound=ReasonedAct)


def _sent_twice(earlier: Made, already: str, *, by: Person, reason: str) -> Made:
    """Give back an act that one person sent twice in the same words; refuse what somebody did before."""
    if (earlier.by_id, earlier.reason) != (by.pk, reason.strip()):
        raise AlreadyThere(f"{already}, by {earlier.by}: {earlier.reason}")
    return earlier


def _require_sentence(reason: str) -> None:
    """Refuse a reason that an assessor could not follow: it moves figures between clients."""
    if not is_a_sentence(reason):
        raise NotPossible(
            "Say in a sentence what shows that it must be put right: sheet, photograph, bag, print. "
            f"{HOW_TO_SAY}"
        )


def _require_a_thing(reason: str) -> None:
    """Refuse a reason that names nothing: whoever reads it later looks for what was seen."""
    if not names_a_thing(reason):
        raise NotPossible(f"“{reason.strip()}” does not say why. {HOW_TO_SAY}")


def _require_two_runs(first: Run, second: Run) -> None:
    if first.batch_id != second.batch_id:
        raise NotPossible(
            f"{first} and {second} stand in different batches; records are exchanged within one."
        )
    if first.pk == second.pk:
        raise NotPossible(f"{first} cannot be exchanged with itself. Choose two cylinders.")
    for run in (first, second):
        if hasattr(run, "taken_out"):
            raise NotPossible(f"{run} was taken out of the plan; nothing was recorded at it.")


def _same_as_the_last(wanted: Exchange, arrangement: Arrangement) -> Exchange | None:
    """The newest exchange in force when it is the same, by the same person: a form that was sent twice."""
    last = arrangement.exchanges[-1] if arrangement.exchanges else None
    return last if last is not None and _content(last) == _content(wanted) else None


def _content(made: Exchange) -> tuple[object, ...]:
    runs = frozenset((made.first_id, made.second_id))
    slots = (made.from_slot_s, made.until_slot_s)
    return (runs, *slots, made.with_sieve_masses, made.reason, made.by_id)


BLANK_MOVES_G_L = 2.5
"""A blank does not settle: it moves by a room of a few degrees and by what is read off it. *Common practice*. [g/L]"""


def _require_still_a_blank(wanted: Exchange, arrangement: Arrangement) -> None:
    """Refuse to make settling readings the blank's: every run of the batch is corrected by them."""
    for blank, other in ((wanted.first, wanted.second), (wanted.second, wanted.first)):
        if not blank.is_blank:
            continue
        own, others = (_values(arrangement.recorded(run)) for run in (blank, other))
        mixed = {
            slot: others.get(slot, v) if wanted.covers(slot) else v for slot, v in (others | own).items()
        }
        unit = soil_per_scale_unit_g_l(HydrometerScale(blank.batch.hydrometer.scale))
        if _spread(mixed) * unit > max(BLANK_MOVES_G_L, _spread(own) * unit):
            raise NotPossible(
                f"The blank’s readings would lie from {max(mixed.values()):g} to {min(mixed.values()):g}, and a blank "
                f"does not settle: every run of {blank.batch} would be corrected by them. If the blank itself is "
                "wrong, leave its readings out, or return the batch."
            )


def _values(readings: Iterable[Reading]) -> dict[int, float]:
    return {each.slot_s: float(each.reading) for each in readings if each.reading is not None}


def _spread(values: dict[int, float]) -> float:
    return max(values.values()) - min(values.values()) if values else 0.0


def _require_exchangeable(wanted: Exchange, arrangement: Arrangement) -> None:
    if wanted.from_slot_s is None:
        _require_whole(wanted)
        _require_still_a_blank(wanted, arrangement)
        return
    if wanted.with_sieve_masses:
        raise NotPossible("What was sieved goes with a whole cylinder, not with single readings.")
    if wanted.until_slot_s is not None and wanted.until_slot_s < wanted.from_slot_s:
        raise NotPossible(
            f"{spoken_time(wanted.until_slot_s)} comes before {spoken_time(wanted.from_slot_s)}."
        )
    slots = [int(s) for s in wanted.first.batch.method.edition.schedule_s if wanted.covers(int(s))]
    if wanted.from_slot_s not in slots:
        raise NotPossible(
            f"{spoken_time(wanted.from_slot_s)} is not a time of “{wanted.first.batch.method}”."
        )
    for run in (wanted.first, wanted.second):
        held = {reading.slot_s for reading in arrangement.recorded(run)}
        absent = [spoken_time(slot_s) for slot_s in slots if slot_s not in held]
        if absent:
            raise NotPossible(
                f"{run} holds nothing at {', '.join(absent)}, so nothing can be exchanged there."
            )
    _require_still_a_blank(wanted, arrangement)


def _require_whole(wanted: Exchange) -> None:
    if wanted.until_slot_s is not None:
        raise NotPossible("Say from which reading on, or exchange everything.")
    if wanted.with_sieve_masses and (wanted.first.is_blank or wanted.second.is_blank):
        raise NotPossible("Nothing is sieved of a blank; exchange its readings without sieve masses.")


def undo_exchange(
    made: Exchange, *, reason: str, by: Person, at: datetime, seen: str | None = None
) -> ExchangeUndone:
    """Take an exchange back; a later one between any of its cylinders is taken back first."""
    with transaction.atomic():
        batch = _opened(made.first.batch, by=by, reason=reason)
        earlier = ExchangeUndone.objects.filter(exchange=made).select_related("by").first()
        if earlier is not None:
            return _sent_twice(earlier, "This exchange was undone already", by=by, reason=reason)
        require_current(batch, seen, by=by, nothing=NOTHING)
        _require_nothing_rests_on(made, arrangement_of(batch))
        undone = ExchangeUndone.objects.create(exchange=made, reason=reason.strip(), **done(by, at))
        ask_under_review(batch, by=by, at=at)
        return undone


def _require_nothing_rests_on(made: Exchange, arrangement: Arrangement) -> None:
    runs = {made.first_id, made.second_id}
    for later in arrangement.exchanges:
        if later.pk > made.pk and runs & {later.first_id, later.second_id}:
            raise NotPossible(f"A later exchange rests on this one: {later.in_words}. Undo that one first.")


def leave_out(
    run: Run, slots_s: Sequence[int], *, reason: str, by: Person, at: datetime, seen: str | None = None
) -> list[LeftOut]:
    """Leave the readings of some slots out of a run, or of the blank for every run; each can be lifted by itself."""
    with transaction.atomic():
        batch = _opened(run.batch, by=by, reason=reason)
        _require_a_thing(reason)
        arrangement = arrangement_of(batch)
        held = {reading.slot_s: reading for reading in arrangement.recorded(run)}
        _require_held(run, slots_s, held)
        require_current(batch, seen, by=by, nothing=NOTHING)
        made = [
            _left_out_already(held[slot_s].run, slot_s, reason=reason, by=by)
            or LeftOut.objects.create(
                run=held[slot_s].run, slot_s=slot_s, reason=reason.strip(), **done(by, at)
            )
            for slot_s in sorted(set(slots_s))
        ]
        _require_something_left(run, arrangement_of(batch))
        ask_under_review(batch, by=by, at=at)
        return made


def _require_held(run: Run, slots_s: Sequence[int], held: object) -> None:
    if not slots_s:
        raise NotPossible("Say which readings are left out.")
    absent = [spoken_time(slot_s) for slot_s in slots_s if slot_s not in held]  # type: ignore[operator]
    if absent:
        raise NotPossible(f"{run} holds nothing at {', '.join(absent)}.")


def _left_out_already(run: Run, slot_s: int, *, reason: str, by: Person) -> LeftOut | None:
    standing = (
        LeftOut.objects.filter(run=run, slot_s=slot_s, lifted__isnull=True).select_related("by").first()
    )
    if standing is None:
        return None
    return _sent_twice(
        standing, f"The reading at {spoken_time(slot_s)} is left out already", by=by, reason=reason
    )


def _require_something_left(run: Run, arrangement: Arrangement) -> None:
    if not arrangement.readings(run):
        raise NotPossible(
            f"No reading of {run.title} would be left. Decide that it is repeated, or return the batch to the bench."
        )


def count_again(
    left_out: LeftOut, *, reason: str, by: Person, at: datetime, seen: str | None = None
) -> LeftOutLifted:
    """Let a reading that was left out count again."""
    with transaction.atomic():
        batch = _opened(left_out.run.batch, by=by, reason=reason)
        earlier = LeftOutLifted.objects.filter(left_out=left_out).select_related("by").first()
        if earlier is not None:
            return _sent_twice(earlier, "This reading counts again already", by=by, reason=reason)
        require_current(batch, seen, by=by, nothing=NOTHING)
        lifted = LeftOutLifted.objects.create(left_out=left_out, reason=reason.strip(), **done(by, at))
        ask_under_review(batch, by=by, at=at)
        return lifted


def put_mass_right(
    portion: Portion,
    purpose: str,
    *,
    mass_g: Decimal,
    reason: str,
    by: Person,
    at: datetime,
    seen: str | None = None,
) -> MassCorrection:
    """Let another mass count in the place of a portion's newest weighing, which stays on record."""
    with transaction.atomic():
        batch = _opened(_run_of(portion).batch, by=by, reason=reason)
        _require_a_thing(reason)
        weighing = newest_weighing(portion, purpose)
        if weighing is None:
            raise NotPossible(f"{portion} has no weighing “{purpose}”; there is nothing to put right.")
        _require_possible_mass(purpose, mass_g)
        newest = weighing.corrections.order_by("pk").last()
        if newest is not None and (newest.by_id, newest.mass_g, newest.reason) == (
            by.pk,
            mass_g,
            reason.strip(),
        ):
            return newest
        require_current(batch, seen, by=by, nothing=NOTHING)
        made = MassCorrection(
            portion=portion,
            weighing=weighing,
            mass_g=mass_g,
            supersedes=newest,
            reason=reason.strip(),
            **done(by, at),
        )
        made.keep(earlier=newest.in_words if newest else mass_in_words(weighing.mass_g))
        ask_under_review(batch, by=by, at=at)
        return made


def _run_of(portion: Portion) -> Run:
    run = Run.objects.filter(portion=portion).select_related("batch").first()
    if run is None:
        raise WrongState(f"{portion} stands in no batch yet; weigh it again at the balance.")
    return run


def _require_possible_mass(purpose: str, mass_g: Decimal) -> None:
    portion = purpose in (Purpose.PORTION, Purpose.PRETREATED)
    low_g = SMALLEST_PORTION_G if portion else Decimal(0)
    if not low_g <= mass_g <= LARGEST_PORTION_G:
        raise NotPossible(
            f"{mass_g:f} g lies outside {low_g} to {LARGEST_PORTION_G} g. Look for a slipped decimal point."
        )
