"""
Whether a page still shows what stands in a batch: its version goes up with every act and every result.

Acts are never deleted, so their number tells two versions apart, and the newest of them say who acted since.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from django.contrib.auth import get_user_model
from django.db.models import Count, F, QuerySet, TextField, Value
from django.db.models.functions import Cast
from django.utils import timezone

from batches.planning.models import Batch, BatchMove
from particles.records.act import Act, Side, acts_in_batches
from particles.records.person import Person
from particles.records.refusals import AlreadyThere

MOST_TOLD = 4
"""Acts of others that a refusal names one by one."""


@dataclass(frozen=True)
class ActSince:
    """One act in a batch: what it was, whose, when and why."""

    what: str
    by: Any
    at: datetime
    why: str

    @property
    def in_words(self) -> str:
        """The act as part of a sentence."""
        why = f" ({self.why})" if self.why else ""
        return f"{self.by}, {moment_in_words(self.at)}: {self.what}{why}"


def moment_in_words(moment: datetime) -> str:
    """Day and minute of a moment in the laboratory's time zone."""
    return f"{timezone.localtime(moment):%-d %b %Y at %H:%M}"


@dataclass(frozen=True)
class DoneInBatch:
    """How many acts of each kind each person has done in one batch, and how many results it has, from one query."""

    acts: dict[tuple[str, int], int]
    """Label of the kind and whose: how many. Moves that are work in the batch are counted apart too."""
    planned_by: int
    results: int

    @property
    def version(self) -> str:
        """The version that a page of the batch carries: how many acts there are in it, and how many results."""
        acts = sum(many for (kind, _), many in self.acts.items() if kind != WORKING_MOVE)
        return f"{acts}.{self.results}"

    def holds(self, kind: type[Act]) -> bool:
        """Whether there is any act of a kind."""
        return any(label == kind._meta.label for label, _ in self.acts)

    def many_of(self, kind: type[Act]) -> int:
        """How many acts of a kind there are."""
        return sum(many for (label, _), many in self.acts.items() if label == kind._meta.label)

    @property
    def workers(self) -> set[int]:
        """Primary keys of everybody who worked in the batch, as in `people_in`."""
        work = {kind._meta.label for kind in acts_in_batches(Side.BENCH) if kind is not BatchMove} | {
            WORKING_MOVE
        }
        return {by for label, by in self.acts if label in work} | {self.planned_by}

    @cached_property
    def people(self) -> dict[int, Any]:
        """Everybody who did anything in the batch, by primary key; fetched once."""
        return get_user_model()._default_manager.in_bulk({by for _, by in self.acts} | {self.planned_by})


WORKING_MOVE = "move that is work"
RESULTS = "results"


def done_in(batch: Batch) -> DoneInBatch:
    """Count what is done in a batch. A page counts first and reads then: what comes between makes its version old."""
    counts = [_counted(BatchMove._meta.label, batch.moves.all())]
    counts.append(_counted(WORKING_MOVE, BatchMove.done_in(batch.pk)))
    counts += [
        _counted(kind._meta.label, kind.done_in(batch.pk))
        for side in Side
        for kind in acts_in_batches(side)
        if kind is not BatchMove
    ]
    results = batch.runs.filter(results__isnull=False).order_by().values("batch")
    counts.append(
        results.annotate(act=Value(RESULTS), many=Count("results")).values_list("act", "batch", "many")
    )
    found = {(label, by): many for label, by, many in counts[0].union(*counts[1:], all=True)}
    many = sum(found.pop(key) for key in [key for key in found if key[0] == RESULTS])
    return DoneInBatch(found, batch.planned_by_id, many)


def _counted(label: str, rows: QuerySet[Any]) -> QuerySet[Any, Any]:
    counted = rows.order_by().values("by").annotate(act=Value(label), many=Count("pk"))
    return counted.values_list("act", "by", "many")


def page_version(batch: Batch) -> str:
    """The version that a page of this batch carries: how many acts there are in it, and how many results."""
    return done_in(batch).version


def acts_since(batch: Batch, seen: str) -> list[ActSince]:
    """Acts in the batch that are newer than a version of its page, the oldest first."""
    count = int(page_version(batch).split(".")[0]) - int(seen.split(".")[0])
    if count <= 0:
        return []
    rows = list(_acts(batch))
    newest = rows[0].union(*rows[1:], all=True).order_by("-at", "-pk")[:count]
    return _told(reversed(newest))


def bench_acts_after(batch: Batch, moment: datetime) -> list[ActSince]:
    """Acts of the bench's side in the batch after a moment, the oldest first; moves of the batch are not among them."""
    kinds = [kind for kind in acts_in_batches(Side.BENCH) if kind is not BatchMove]
    rows = [_columns(kind, kind.done_in(batch.pk).filter(at__gt=moment)) for kind in kinds]
    return _told(rows[0].union(*rows[1:], all=True).order_by("at", "pk"))


def _told(rows: Iterable[dict[str, Any]]) -> list[ActSince]:
    found = list(rows)
    people = get_user_model()._default_manager.in_bulk({row["by"] for row in found})
    return [ActSince(row["act_what"], people[row["by"]], row["at"], row["act_why"]) for row in found]


def _acts(batch: Batch) -> Iterator[QuerySet[Any, dict[str, Any]]]:
    """Rows of every kind of act in a batch, with the same columns for each kind; every move of the batch is one."""
    yield _columns(BatchMove, batch.moves.all())
    for side in Side:
        for kind in acts_in_batches(side):
            if kind is not BatchMove:
                yield _columns(kind, kind.done_in(batch.pk))


def _columns(kind: type[Act], rows: QuerySet[Any]) -> QuerySet[Any, dict[str, Any]]:
    fields = {field.name for field in kind._meta.fields}
    why = next((F(name) for name in ("reason", "note") if name in fields), Value(""))
    what = F("to_state") if kind is BatchMove else Value(str(kind._meta.verbose_name))
    told = rows.order_by().annotate(act_what=Cast(what, TextField()), act_why=Cast(why, TextField()))
    return told.values("pk", "by", "at", "act_what", "act_why")


def require_current(
    batch: Batch, seen: str | None, *, by: Person, nothing: str, also_own: bool = False
) -> None:
    """
    Refuse an act sent from a page on which somebody else's later act is not shown.

    Parameters
    ----------
    seen : the version the page carried; None for an act without a page.
    nothing : what did not happen, as a sentence.
    also_own : refuse too when one's own later acts or new figures are not shown, as for a signature.
    """
    if seen is None:
        return
    since = acts_since(batch, _readable(seen, batch))
    others = since if also_own else [act for act in since if act.by.pk != by.pk]
    if others:
        told = "; ".join(act.in_words for act in others[-MOST_TOLD:])
        more = f" and {len(others) - MOST_TOLD} more before" if len(others) > MOST_TOLD else ""
        raise AlreadyThere(
            f"Since this page was opened: {told}{more}. {nothing} Read what stands now, then decide."
        )
    if also_own and page_version(batch) != seen:
        raise AlreadyThere(f"Figures were computed since this page was opened. {nothing} Look at them first.")


def _readable(seen: str, batch: Batch) -> str:
    parts = seen.split(".")
    if len(parts) != 2 or not all(part.isdecimal() and len(part) < 10 for part in parts):
        raise AlreadyThere(f"This page does not say which version of {batch} it shows. Open it anew.")
    return seen
