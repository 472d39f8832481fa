"""Rows of the causes of a batch, as the page of a review shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from batches.causes.forms import AnswerForm
from batches.causes.kept import AnsweredCause
from batches.causes.models import CauseAnswer
from batches.review.effects import LEAST_SHOWN
from batches.review.examination import ExaminedRun
from particles.distribution import CATALOGUE
from particles.distribution.causes.cause import Cause, Effect, Needs, Remedy
from particles.distribution.spoken import spoken_count

FEW = 3
MOST_TOLD = 1000
"""Odds beyond it are not told: what else may have gone wrong was not weighed. *Chosen*."""
"""Effects shown at once; the others are a click away."""
OWN = "the laboratory’s own"
"""Stands where a client would, of a reference soil."""
PARTS = ("sand", "silt", "clay")
REMEDY_IN_WORDS = {
    Remedy.NONE: "",
    Remedy.LEAVE_OUT: "with these readings left out",
    Remedy.EXCHANGE: "with the exchange put right",
    Remedy.MASS: "with the mass put right",
    Remedy.BLANK: "with the blank put right",
    Remedy.AGAIN: "as the other portion reads",
}


@dataclass(frozen=True)
class EffectRow:
    """What the remedy of a cause does to one sample's figures."""

    effect: Effect
    run: Any
    client: str

    @property
    def parts(self) -> list[tuple[str, float, float]]:
        """Name, value before and value after of each fraction; empty when either side has no figures. [%]"""
        before, after = self.effect.before, self.effect.after
        if before is None or after is None:
            return []
        return list(zip(PARTS, before, after, strict=True))


@dataclass(frozen=True)
class CauseRow:
    """One cause with its runs, its effects and the form that answers it."""

    cause: Cause
    answer: CauseAnswer | None
    runs: tuple[Any, ...]
    effects: tuple[EffectRow, ...]
    """The largest first."""
    form: AnswerForm | None
    """None once it is answered, or when it asks for nothing."""
    of_runs: int
    """Runs of the batch."""
    is_open: bool = False
    """Whether the page shows it unfolded: it is the next to be answered, or its answer came back with a complaint."""
    fallen: CauseAnswer | None = None
    """The newest answer where it holds no more, for `why_fallen`."""
    why_fallen: str = ""

    @property
    def title(self) -> str:
        """What it is in a few words; its whole sentence where the catalogue has no row for it."""
        row = CATALOGUE.get(self.cause.kind)
        return self.cause.sentence if row is None else row.title[:1].upper() + row.title[1:]

    @property
    def where(self) -> str:
        """The runs it touches: by name where they are few, else how many."""
        if self.is_everywhere:
            return f"all {self.of_runs} runs"
        count, names = len(self.runs), [str(run.title) for run in self.runs]
        return f"{spoken_count(count, 'run')}: {', '.join(names)}" if count <= FEW else f"{count} runs"

    @property
    def effect_in_short(self) -> str:
        """Its largest effect in a few words; that it is not known where nothing could be computed."""
        if not self.effects:
            return "effect not known"
        said = [f"up to {self.cause.largest_pct:.1f} points"] if self.cause.largest_pct >= LEAST_SHOWN else []
        if self.cause.flips:
            said.append("class changes")
        if any(row.effect.loses_figures for row in self.effects):
            said.append("no figures left")
        return ", ".join(said) or "moves no figure"

    @property
    def place(self) -> str:
        """Name of its place on the page."""
        return place_of(self.cause.key)

    @property
    def is_everywhere(self) -> bool:
        """Whether it touches every run of a batch of more than a few."""
        return self.of_runs > FEW and len(self.runs) == self.of_runs

    @property
    def needs_decision(self) -> bool:
        return self.cause.needs is Needs.DECISION

    @property
    def is_only_looked_at(self) -> bool:
        return self.cause.needs is Needs.LOOK

    @property
    def first_effects(self) -> tuple[EffectRow, ...]:
        return self.effects[:FEW]

    @property
    def more_effects(self) -> tuple[EffectRow, ...]:
        return self.effects[FEW:]

    @property
    def with_curves(self) -> tuple[EffectRow, ...]:
        """The two largest effects that have both curves."""
        drawn = [row for row in self.effects if row.effect.curve_before and row.effect.curve_after]
        return tuple(drawn[:2])

    @property
    def remedy_in_words(self) -> str:
        return REMEDY_IN_WORDS[self.cause.remedy]

    @property
    def odds_in_words(self) -> str:
        """The odds as a person says them; '' where none were computed."""
        odds = self.cause.odds
        if odds is None:
            return ""
        if odds >= 1:
            return f"{_round(odds)} to 1 that it was so"
        return f"{_round(1 / odds)} to 1 that it was not so" if odds > 0 else ""

    @property
    def clients(self) -> list[str]:
        """Clients whose figures it moves, in order of their names."""
        return sorted({row.client for row in self.effects if row.client and row.client != OWN})

    @property
    def moves(self) -> str:
        """Its effect in one line: the largest move, in how many figures, how many classes; '' without any."""
        moved = [
            row for row in self.effects if row.effect.largest_pct >= LEAST_SHOWN or row.effect.loses_figures
        ]
        if not moved:
            return ""
        flips = len(self.cause.flips)
        lost = sum(row.effect.loses_figures for row in moved)
        largest = _largest_part(moved)
        said = [f"moves {largest} in {len(moved) - lost} of the figures"] if largest else []
        if flips:
            said.append(f"{flips} class{'es' if flips > 1 else ''} change{'' if flips > 1 else 's'}")
        if lost:
            said.append(f"{lost} would have no figures left")
        return "; ".join(said)


def _largest_part(rows: Sequence[EffectRow]) -> str:
    found = [(abs(after - before), name, after - before) for row in rows for name, before, after in row.parts]
    if not found:
        return ""
    _, name, move = max(found)
    return f"{name} by {move:+.1f} points at most".replace("-", "−")


def _whose(run: Any) -> str:
    return OWN if run.is_reference else str(run.sample.job.client.name)


def _round(odds: float) -> str:
    return f"{odds:.0f}" if odds < MOST_TOLD else f"more than {MOST_TOLD}"


def place_of(key: str) -> str:
    """Name of a cause's place on the page of a review."""
    return f"cause-{key}"


def cause_rows(
    causes: Sequence[AnsweredCause], runs: Sequence[ExaminedRun], forms: Mapping[str, Any], *, is_open: bool
) -> list[CauseRow]:
    """A row for each cause, in the order they were ranked; `forms` are those that came back with a complaint."""
    by_title = {each.run.title: each.run for each in runs}
    reported = [each.run.title for each in runs if each.run.is_reported]
    return _one_open([_row(each, by_title, reported, forms, is_open) for each in causes])


def _one_open(rows: Sequence[CauseRow]) -> list[CauseRow]:
    """The rows, unfolded the first that waits for a decision, else for a note, and every one with a complaint."""
    waiting = [row for row in rows if row.form is not None]
    first = next((row for row in waiting if row.needs_decision), waiting[0] if waiting else None)
    return [
        replace(row, is_open=row is first or (row.form is not None and row.form.is_bound)) for row in rows
    ]


def _row(
    each: AnsweredCause,
    by_title: Mapping[str, Any],
    reported: Sequence[str],
    forms: Mapping[str, Any],
    is_open: bool,
) -> CauseRow:
    cause, form = each.cause, None
    if is_open and each.is_open:
        place = place_of(cause.key)
        form = forms.get(place) or AnswerForm(prefix=place, cause=cause, reported=reported)
    effects = sorted(cause.effects, key=lambda effect: (-effect.loses_figures, -effect.largest_pct))
    return CauseRow(
        cause=cause,
        answer=each.answer,
        fallen=each.fallen,
        why_fallen=each.why_fallen,
        runs=tuple(by_title[label] for label in cause.labels if label in by_title),
        effects=tuple(
            EffectRow(effect, by_title[effect.label], _whose(by_title[effect.label]))
            for effect in effects
            if effect.label in by_title
        ),
        form=form,
        of_runs=len(by_title),
    )
