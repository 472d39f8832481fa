"""Rows of a proficiency round: locked figures, the report, scores and answers, as its page shows them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from batches.proficiency.forms import AnswerForm
from batches.proficiency.models import FRACTIONS, AssignedValue, Round, RoundLock, RoundSample, ScoreAnswer
from batches.proficiency.rules import as_plain
from batches.proficiency.scores import Participants, Scores, Verdict, scores, sum_up


@dataclass(frozen=True)
class ScoreRow:
    """One fraction of a round's sample: what was locked, what the report says, and the scores."""

    fraction: str
    value_pct: float
    uncertainty_pct: float | None
    assigned: AssignedValue | None
    earlier: list[AssignedValue]
    form: AnswerForm | None

    @property
    def scores(self) -> Scores | None:
        """Scores of the locked figure; None before the report."""
        if self.assigned is None:
            return None
        return scores(self.value_pct, self.uncertainty_pct, as_plain(self.assigned))

    @property
    def answer(self) -> ScoreAnswer | None:
        """The answer that was given to these scores."""
        return None if self.assigned is None else getattr(self.assigned, "answer", None)

    @property
    def is_off(self) -> bool:
        """Whether a score is questionable or unsatisfactory."""
        found = self.scores
        return found is not None and found.worst is not Verdict.SATISFACTORY

    @property
    def needs_answer(self) -> bool:
        """Whether a score is off and nobody has answered it."""
        return self.is_off and self.answer is None

    @property
    def participants(self) -> Participants | None:
        """The participants' values summed up; None where the report gives too few."""
        return None if self.assigned is None else sum_up([float(v) for v in self.assigned.participants_pct])

    @property
    def participants_disagree(self) -> bool:
        """Whether the assigned value lies off the participants' middle."""
        found = self.participants
        return (
            found is not None and self.assigned is not None and found.disagrees_with(as_plain(self.assigned))
        )


@dataclass(frozen=True)
class LockedRow:
    """One sample as it was locked."""

    entry: dict[str, Any]
    scores: list[ScoreRow]

    @property
    def is_repeated(self) -> bool:
        """Whether the sample was analysed more than once before its results were locked."""
        return len(self.entry["attempts"]) > 1


def locked_rows(lock: RoundLock, form_of: Callable[[AssignedValue], AnswerForm | None]) -> list[LockedRow]:
    """Every locked sample of a round with its scores; `form_of` gives the form of an answer that is due."""
    entered: dict[tuple[int, str], list[AssignedValue]] = {}
    for each in lock.assigned_values.select_related("by", "answer__by").order_by("attempt"):
        entered.setdefault((each.link_id, each.fraction), []).append(each)
    return [
        LockedRow(
            entry,
            [_score_row(entry, name, entered, form_of) for name in FRACTIONS if name in entry["figures"]],
        )
        for entry in lock.figures
    ]


def _score_row(
    entry: dict[str, Any],
    fraction: str,
    entered: dict[tuple[int, str], list[AssignedValue]],
    form_of: Callable[[AssignedValue], AnswerForm | None],
) -> ScoreRow:
    figure, found = entry["figures"][fraction], entered.get((entry["link"], fraction), [])
    newest = found[-1] if found else None
    return ScoreRow(
        fraction=fraction,
        value_pct=figure["value_pct"],
        uncertainty_pct=figure["standard_uncertainty_pct"],
        assigned=newest,
        earlier=found[:-1],
        form=None if newest is None else form_of(newest),
    )


@dataclass(frozen=True)
class RoundRow:
    """One round of the list."""

    round: Round
    samples: int
    lock: RoundLock | None
    worst: Verdict | None
    open_answers: int


def round_rows(rounds: list[Round]) -> list[RoundRow]:
    """Rows of the list of rounds."""
    return [_round_row(each) for each in rounds]


def _round_row(of: Round) -> RoundRow:
    lock: RoundLock | None = getattr(of, "lock", None)
    rows = [] if lock is None else locked_rows(lock, lambda _: None)
    found = [row for sample in rows for row in sample.scores if row.scores is not None]
    verdicts = [row.scores.worst for row in found if row.scores is not None]
    gravity = list(Verdict)
    return RoundRow(
        round=of,
        samples=sum(not hasattr(link, "taken_back") for link in of.samples.all()),
        lock=lock,
        worst=max(verdicts, key=gravity.index, default=None),
        open_answers=sum(row.needs_answer for row in found),
    )


def links_to_score(of: Round) -> list[RoundSample]:
    """Samples of a round that were locked with figures."""
    lock: RoundLock | None = getattr(of, "lock", None)
    pks = [] if lock is None else [entry["link"] for entry in lock.figures if entry["figures"]]
    return list(RoundSample.objects.filter(pk__in=pks))
