"""What has changed in a batch since one person last looked at it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from batches.planning.models import Batch
from batches.review.examination import ExaminedRun
from batches.review.models import LastLook
from batches.review_page.changes import Change
from particles.records.person import Person

SAME_VISIT = timedelta(minutes=30)
"""Looks nearer to each other are one."""
NO_FIGURES: list[Any] = [None, None, None, ""]
WAITS: list[Any] = [None, None, None, "waits for the worker"]


@dataclass(frozen=True)
class Moved:
    """One run whose figures are others than they were."""

    title: str
    before: str
    after: str


@dataclass(frozen=True)
class Since:
    """What has changed since one moment."""

    at: datetime
    moved: tuple[Moved, ...]
    """Those of which a printed whole percent or the class is another."""
    moved_little: int
    """How many more moved, by less than what is printed."""
    changes: tuple[Change, ...]
    """Recorded values that took the place of others since."""
    done: tuple[tuple[Person, datetime, str], ...]
    """What other people did since: who, when, what."""

    @property
    def is_empty(self) -> bool:
        return not (self.moved or self.moved_little or self.changes or self.done)


def since_last_look(
    batch: Batch,
    runs: Sequence[ExaminedRun],
    acts: Iterable[tuple[Person, datetime, str]],
    changes: Sequence[Change],
    *,
    by: Person,
    at: datetime,
) -> Since | None:
    """What has changed since this person last looked; this look is remembered. None at the first."""
    now = {each.run.title: _figures(each) for each in runs}
    look, is_first = LastLook.objects.get_or_create(
        batch=batch, person_id=by.pk, defaults={"at": at, "seen": now}
    )
    if is_first:
        return None
    if look.seen != now or at - look.at > SAME_VISIT:
        look.before, look.before_at = look.seen, look.at
        look.seen, look.at = now, at
        look.save(update_fields=["before", "before_at", "seen", "at"])
    if look.before is None or look.before_at is None:
        return None
    others = tuple(act for act in acts if act[0].pk != by.pk and act[1] > look.before_at)
    later = tuple(change for change in changes if change.at > look.before_at)
    pairs = {title: (look.before.get(title, NO_FIGURES), figures) for title, figures in now.items()}
    changed = {title: pair for title, pair in pairs.items() if pair[0] != pair[1]}
    moved = tuple(
        Moved(title, _in_words(before), _in_words(after))
        for title, (before, after) in changed.items()
        if _printed(before) != _printed(after)
    )
    return Since(look.before_at, moved, len(changed) - len(moved), later, others)


def _figures(each: ExaminedRun) -> list[Any]:
    if each.waits_for_worker:
        return WAITS
    distribution = each.distribution
    if distribution is None or distribution.fractions is None:
        return NO_FIGURES
    name = distribution.texture.name if distribution.texture else ""
    return [*(round(value, 2) for value in distribution.fractions.percents), name]


def _printed(figures: list[Any]) -> list[Any]:
    """What a certificate prints of figures: whole percent, and the class."""
    return [None if value is None else round(value) for value in figures[:3]] + [figures[3]]


def _in_words(figures: list[Any]) -> str:
    if figures[0] is None:
        return str(figures[3]) or "no figures"
    return " / ".join(f"{value:.1f}" for value in figures[:3]) + f" {figures[3]}".rstrip()
