"""
The instruments at a cylinder on the day something is done: what is overdue or withdrawn starts nothing.

What can be done again is refused: a start, a second stirring, one more reading of the blank. A reading of a cylinder
that settles cannot be taken again, so it is kept and says what was wrong (decision 0022).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.text import capfirst

from batches.bench.models import Reading
from batches.equipment.models import Instrument
from batches.planning.models import Batch, BatchState, Run
from particles.records.refusals import NotPossible

HAVE_IT_CHECKED = "Have it checked and the check recorded under Equipment, then do it again."
VOID_IT = (
    "Make the run void: its sample gets a new portion. Or give the batch up while no cylinder has started."
)


def why_unfit(instruments: Iterable[Instrument], moment: datetime) -> str:
    """What is wrong with the instruments at a cylinder on the day of a moment; '' when nothing is."""
    return "; ".join(why for _, why in _unfit(instruments, moment))


def require_fit(instruments: Iterable[Instrument], serial: str, moment: datetime, what: str) -> None:
    """Refuse what a cylinder needs an instrument for that is overdue or withdrawn on the day of a moment."""
    found = _unfit(instruments, moment)
    if not found:
        return
    way_on = VOID_IT if any(each.withdrawn_on is not None for each, _ in found) else HAVE_IT_CHECKED
    raise NotPossible(
        f"{capfirst('; '.join(why for _, why in found))}. Cylinder {serial} {what} on "
        f"{timezone.localdate(moment):%-d %b %Y} only with what is in service. {way_on}"
    )


def unusable_today(batch: Batch, runs: Iterable[Run], today: date) -> str:
    """What is overdue or withdrawn of all that these runs of a batch are or will be read with, as sentences; or ''."""
    if batch.state not in (
        BatchState.PLANNED,
        BatchState.SOAKING,
        BatchState.DISPERSED,
        BatchState.RUNNING,
    ):
        return ""
    used: list[Any] = [batch.hydrometer, batch.thermometer, *(run.cylinder for run in runs)]
    return " ".join(f"{capfirst(why)}." for each in used if (why := each.why_unusable(today)))


def unfit_slots(readings: Iterable[Reading]) -> dict[str, list[int]]:
    """Slots that were read with an instrument not in service, by what was wrong with it, in order of time. [s]"""
    found: dict[str, list[int]] = defaultdict(list)
    for reading in sorted(readings, key=lambda each: each.slot_s):
        if reading.unfit:
            found[reading.unfit].append(reading.slot_s)
    return dict(found)


def _unfit(instruments: Iterable[Instrument], moment: datetime) -> list[tuple[Instrument, str]]:
    """Each instrument that is unusable on the day of a moment, with why."""
    day = timezone.localdate(moment)
    return [(each, why) for each in instruments if (why := each.why_unusable(day))]
