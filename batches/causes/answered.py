"""
What an answer to a cause answered, and whether it still does.

An answer falls when the cause says something else than it did then, when a decision that went with it was taken back,
and when the batch was re-opened since. A move that the printed percentages do not show changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from django.db.models import DateTimeField, OuterRef, QuerySet, Subquery

from batches.causes.models import CauseAnswer
from batches.planning.models import BatchMove, BatchState
from batches.review.examination import ExaminedRun
from particles.distribution import SizeDistribution
from particles.distribution.causes.cause import PRINTED_PCT, Cause, Effect, Needs

HIDDEN_PCT = PRINTED_PCT / 2.0
"""A smaller move is hidden by the rounding of a printed percentage. [percentage points]"""
_NUMBER = re.compile(r"(\d+(?:\.\d+)?)( ?%| points)?")

ASKS_FOR_MORE = "the cause asks for more than was answered"
REOPENED = "the batch was re-opened since"
CHANGED = "what it answered has changed since"


def what_it_tells(cause: Cause, runs: Sequence[ExaminedRun]) -> dict[str, Any]:
    """What an answer to a cause answers: its sentence, the figures of its runs, and what they would be without it."""
    by_title = {each.run.title: each.distribution for each in runs}
    return {
        "kind": cause.kind,
        "sentence": cause.sentence,
        "figures": {label: _figures(by_title.get(label)) for label in cause.labels},
        "remedied": {effect.label: _remedied(effect) for effect in cause.effects},
    }


def _figures(distribution: SizeDistribution | None) -> list[Any]:
    if distribution is None or distribution.fractions is None:
        return []
    name = distribution.texture.name if distribution.texture else ""
    return [*distribution.fractions.percents, name]


def _remedied(effect: Effect) -> list[Any]:
    return [] if effect.after is None else [*effect.after, effect.class_after]


def tells_the_same(then: dict[str, Any], now: dict[str, Any]) -> bool:
    """Whether a cause says what it said, but for moves that the printed percentages do not show."""
    return _same_words(then["sentence"], now["sentence"]) and all(
        then[name].keys() == now[name].keys()
        and all(_same_figures(then[name][label], now[name][label]) for label in now[name])
        for name in ("figures", "remedied")
    )


def _same_words(then: str, now: str) -> bool:
    """
    Whether two sentences differ in no word and no number but percentages within rounding.

    >>> _same_words("Sand is 41.2 % of 40.40 g.", "Sand is 41.4 % of 40.40 g.")
    True
    >>> _same_words("Sand is 41.2 % of 57.50 g.", "Sand is 41.2 % of 65.00 g.")
    False
    """
    if _NUMBER.sub("#", then) != _NUMBER.sub("#", now):
        return False
    pairs = zip(_NUMBER.findall(then), _NUMBER.findall(now), strict=True)
    return all(
        one == other or (unit == unit_now != "" and abs(float(one) - float(other)) < HIDDEN_PCT)
        for (one, unit), (other, unit_now) in pairs
    )


def _same_figures(then: Sequence[Any], now: Sequence[Any]) -> bool:
    """Whether two triples with their class print alike; one without figures is like no other."""
    if not then or not now:
        return not then and not now
    moved = (abs(one - other) for one, other in zip(then[:3], now[:3], strict=True))
    return then[3] == now[3] and all(move < HIDDEN_PCT for move in moved)


def with_reopening(answers: QuerySet[Any]) -> QuerySet[Any]:
    """Rows of a batch, each with the moment at which that was last re-opened as `reopened_at`."""
    moves = BatchMove.objects.filter(batch=OuterRef("batch"), to_state=BatchState.REOPENED).order_by("-pk")
    return answers.annotate(reopened_at=Subquery(moves.values("at")[:1], output_field=DateTimeField()))


def is_from_before(act: Any) -> bool:
    """Whether an act, fetched by `with_reopening`, is from before its batch was last re-opened."""
    reopened_at: datetime | None = act.reopened_at
    return reopened_at is not None and act.at <= reopened_at


def why_fallen(answer: CauseAnswer, needs: str, told: dict[str, Any] | None, held: Collection[str]) -> str:
    """
    Why an answer, fetched by `with_reopening`, holds no more; '' while it does.

    Parameters
    ----------
    needs : what the cause asks for now.
    told : what it tells now; None for a list from before that was kept.
    held : runs whose figures do not leave the laboratory now.
    """
    if Needs(answer.needs).weight < Needs(needs).weight:
        return ASKS_FOR_MORE
    if is_from_before(answer):
        return REOPENED
    if told is not None and not _told_then(answer, told):
        return CHANGED
    back = [label for label in answer.labels if label not in held]
    return f"what was decided of {', '.join(back)} was taken back" if back else ""


def _told_then(answer: CauseAnswer, told: dict[str, Any]) -> bool:
    if answer.told is None:
        return _same_words(answer.sentence, told["sentence"])
    return tells_the_same(answer.told, told)
