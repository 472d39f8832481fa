"""Which records count for which run: the exchanges in force, one after the other, and the readings left out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import Exists, OuterRef

from batches.bench.models import Observation, Reading
from batches.bench.rules import current_readings, missing_slots
from batches.exchanging.models import Exchange, LeftOut
from batches.planning.freshness import DoneInBatch
from batches.planning.models import Batch, Run
from batches.voiding.models import RunVoid, is_void, void_of
from particles.models import Portion


@dataclass(frozen=True)
class Arrangement:
    """The assignment in force in one batch; without any act each run has the records of its own cylinder."""

    exchanges: tuple[Exchange, ...] = ()
    """Those not undone, in the order in which they were made."""
    left_out: frozenset[tuple[int, int]] = frozenset()
    """Run of the cylinder and slot of each reading that does not count."""
    runs: dict[int, Run] = field(default_factory=dict)
    """Runs known so far, by primary key; others are fetched when they are needed."""

    def knowing(self, runs: Iterable[Run]) -> Arrangement:
        """The same with these runs at hand, so that nothing is fetched for them."""
        return replace(self, runs={run.pk: run for run in runs})

    def cylinder_of(self, run: Run, slot_s: int | None = None) -> Run:
        """The run of the cylinder whose record of this slot, or of no slot, counts for `run`."""
        return self._traced(run, [e for e in self.exchanges if _is_about(e, slot_s)])

    def sieved_of(self, run: Run) -> Portion | None:
        """The portion whose sieved sand counts for `run`; None for the blank."""
        return self._traced(run, [e for e in self.exchanges if e.with_sieve_masses]).portion

    def _traced(self, run: Run, exchanges: Sequence[Exchange]) -> Run:
        at = run.pk
        for each in reversed(exchanges):  # whoever was exchanged last is followed back first
            at = {each.first_id: each.second_id, each.second_id: each.first_id}.get(at, at)
        return run if at == run.pk else self._run(at)

    def _run(self, pk: int) -> Run:
        if pk not in self.runs:
            related = Run.objects.select_related("cylinder", "batch__method", "portion")
            self.runs[pk] = related.get(pk=pk)
        return self.runs[pk]

    def recorded(self, run: Run) -> list[Reading]:
        """The reading recorded for each slot of `run`, those left out included, in order of the schedule."""
        if not self.exchanges:
            return current_readings(run)
        slots = sorted({r.slot_s for each in self._concerned(run) for r in current_readings(each)})
        found = (_at_slot(self.cylinder_of(run, slot_s), slot_s) for slot_s in slots)
        return [reading for reading in found if reading is not None]

    def _concerned(self, run: Run) -> list[Run]:
        pks = {run.pk, *(pk for e in self.exchanges for pk in (e.first_id, e.second_id))}
        return [run if pk == run.pk else self._run(pk) for pk in sorted(pks)]

    def readings(self, run: Run) -> list[Reading]:
        """The readings that count for `run`, in order of the schedule."""
        return [r for r in self.recorded(run) if (r.run_id, r.slot_s) not in self.left_out]

    def slots_left_out(self, run: Run) -> list[int]:
        """Slots of `run` whose reading does not count. [s]"""
        return [r.slot_s for r in self.recorded(run) if (r.run_id, r.slot_s) in self.left_out]

    def missing(self, run: Run) -> list[int]:
        """Slots of `run` that hold neither a reading nor a reason for its absence. [s]"""
        if not self.exchanges:
            return missing_slots(run)
        if is_void(self.cylinder_of(run)):
            return []
        have = {reading.slot_s for reading in self.recorded(run)}
        return [int(s) for s in run.batch.method.edition.schedule_s if int(s) not in have]

    def void(self, run: Run) -> RunVoid | None:
        """The act that makes the cylinder void whose records count for `run`."""
        return void_of(self.cylinder_of(run))

    def observations(self, run: Run) -> list[Observation]:
        """Observations that count for `run`: those of no slot come with the cylinder, others with their reading."""
        if not self.exchanges:
            return list(run.observations.all())
        return [
            seen
            for each in self._concerned(run)
            for seen in each.observations.all()
            if self.cylinder_of(run, seen.slot_s).pk == each.pk
        ]


def _is_about(exchange: Exchange, slot_s: int | None) -> bool:
    return exchange.from_slot_s is None if slot_s is None else exchange.covers(slot_s)


def _at_slot(run: Run, slot_s: int) -> Reading | None:
    return next((reading for reading in current_readings(run) if reading.slot_s == slot_s), None)


def arrangement_of(batch: Batch, done: DoneInBatch | None = None) -> Arrangement:
    """Read the assignment in force of one batch; `done` tells whether there is anything to read."""
    if done is not None and not (done.holds(Exchange) or done.holds(LeftOut)):
        return Arrangement()
    exchanges = Exchange.objects.filter(first__batch=batch, undone__isnull=True).order_by("pk")
    left_out = LeftOut.objects.filter(run__batch=batch, lifted__isnull=True)
    return Arrangement(tuple(exchanges), frozenset(left_out.values_list("run", "slot_s")))


def is_put_right(batch: str) -> Any:
    """Whether anything is exchanged or left out in the batch that a row names by the path `batch`."""
    exchanged = Exchange.objects.filter(first__batch=OuterRef(batch), undone__isnull=True)
    left_out = LeftOut.objects.filter(run__batch=OuterRef(batch), lifted__isnull=True)
    return Exists(exchanged) | Exists(left_out)


def arrangements_of(batches: Iterable[int]) -> dict[int, Arrangement]:
    """
    Read the assignments in force of several batches, each by the primary key of its batch.

    Two queries, and where anything was exchanged those for its cylinders; batches with nothing to read are left out.
    """
    asked = set(batches)
    if not asked:
        return {}
    exchanges: dict[int, list[Exchange]] = {}
    in_force = Exchange.objects.filter(first__batch__in=asked, undone__isnull=True)
    for each in in_force.select_related("first").order_by("pk"):
        exchanges.setdefault(each.first.batch_id, []).append(each)
    left_out: dict[int, set[tuple[int, int]]] = {}
    counts_not = LeftOut.objects.filter(run__batch__in=asked, lifted__isnull=True)
    for batch, run, slot_s in counts_not.values_list("run__batch", "run", "slot_s"):
        left_out.setdefault(batch, set()).add((run, slot_s))
    concerned = {pk for made in exchanges.values() for e in made for pk in (e.first_id, e.second_id)}
    related = Run.objects.select_related("cylinder", "batch__method", "portion")
    runs = (
        related.prefetch_related("readings", "replunges", "voids__lifted").in_bulk(concerned)
        if concerned
        else {}
    )
    return {
        pk: Arrangement(tuple(exchanges.get(pk, ())), frozenset(left_out.get(pk, ())), dict(runs))
        for pk in exchanges.keys() | left_out.keys()
    }
