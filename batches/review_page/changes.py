"""Values that took the place of others in one batch, read from what was fetched with its runs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import pairwise
from typing import Any

from batches.bench.models import Reading
from batches.corrections.models import FillingCorrection, density_in_words, filling_in_words
from batches.planning.models import Run
from batches.voiding.rows import SeenRow, observed_row, stirred_row
from particles.distribution.spoken import spoken_time
from particles.models import Portion
from particles.records.person import Person


@dataclass(frozen=True)
class Change:
    """One value that took the place of another, with who changed it, when and why."""

    what: str
    before: str
    after: str
    reason: str
    by: Person
    at: datetime


def changes_of(runs: Sequence[Run], fillings: Sequence[FillingCorrection]) -> list[Change]:
    """Every value that took the place of an earlier one, in order of time; `runs` with the blank."""
    portions = [run.portion for run in runs if run.portion is not None]
    samples = {portion.sample_id: portion.sample for portion in portions}.values()
    found = [
        *(change for run in runs for change in _readings(run)),
        *(change for portion in portions for change in _masses(portion)),
        *(
            change
            for portion in portions
            for change in _corrections(portion.density_corrections.all(), density_in_words(portion))
        ),
        *_corrections(fillings, filling_in_words(runs[0].batch)),
        *(change for sample in samples for change in _before_the_bench(sample)),
    ]
    return sorted(found, key=lambda change: change.at)


def seen_at_cylinders(runs: Sequence[Run]) -> dict[str, Any]:
    """Template context of observations, stirrings, voids and doubtful times."""
    seen: list[SeenRow] = [
        *(
            observed_row(each)
            for run in runs
            for each in run.observations.all()
            if each.takes_back_id is None
        ),
        *(stirred_row(each) for run in runs for each in run.replunges.all()),
    ]
    return {
        "seen": sorted(seen, key=lambda row: row.at),
        "voids": [void for run in runs for void in run.voids.all()],
        "doubtful_times": [r for run in runs for r in run.readings.all() if r.time_doubt is not None],
    }


def _later(rows: Iterable[Any], key: Any) -> Iterator[tuple[Any, Any]]:
    """Each row with the attempt before it, for rows that took the place of another."""
    chains: dict[Any, list[Any]] = defaultdict(list)
    for row in sorted(rows, key=lambda each: each.attempt):
        chains[key(row)].append(row)
    for chain in chains.values():
        yield from pairwise(chain)


def _readings(run: Run) -> Iterator[Change]:
    for earlier, later in _later(run.readings.all(), lambda r: (r.replunge_id, r.slot_s)):
        what = f"Cylinder {run.cylinder.serial}, {spoken_time(later.slot_s)}"
        yield Change(what, _told(earlier), _told(later), later.reason, later.by, later.at)


def _told(reading: Reading) -> str:
    if reading.elapsed_s is None or reading.temperature_c is None:
        return reading.in_words
    elapsed_s, temperature_c = (f"{v.normalize():f}" for v in (reading.elapsed_s, reading.temperature_c))
    return f"{reading.in_words} at {elapsed_s} s, {temperature_c} °C"


def _masses(portion: Portion) -> Iterator[Change]:
    for earlier, later in _later(portion.weighings.all(), lambda w: w.purpose):
        what = f"{portion}, {later.get_purpose_display()}"
        yield _mass(what, earlier.mass_g, later.mass_g, later)
    for earlier, later in _later(portion.sieve_masses.all(), lambda s: s.opening_um):
        what = f"{portion}, on {later.opening_um.normalize():f} µm"
        yield _mass(what, earlier.retained_g, later.retained_g, later)


def _mass(what: str, before: Decimal, after: Decimal, row: Any) -> Change:
    return Change(what, f"{before.normalize():f} g", f"{after.normalize():f} g", row.reason, row.by, row.at)


def _corrections(rows: Iterable[Any], at_first: str) -> Iterator[Change]:
    """Corrections in the order they were made, each beside the words of the one before it."""
    by_pk = {row.pk: row for row in rows}
    for made in rows:
        earlier = by_pk[made.supersedes_id].in_words if made.supersedes_id else at_first
        yield Change(str(made), earlier, made.in_words, made.reason, made.by, made.at)


def _before_the_bench(sample: Any) -> Iterator[Change]:
    """Corrected preparations and decisions on pretreatment of a sample."""
    prepared = {each.pk: each for each in sample.preparations.all()}
    for each in prepared.values():
        if each.supersedes_id:
            before = prepared[each.supersedes_id].in_words
            yield Change(str(each), before, each.in_words, each.reason or "", each.by, each.at)
    decided = {each.pk: each for each in sample.pretreatment_decisions.all()}
    for each in decided.values():
        if each.supersedes_id:
            before = decided[each.supersedes_id].in_words_with_evidence
            yield Change(
                str(each), before, each.in_words_with_evidence, each.why_superseded or "", each.by, each.at
            )
