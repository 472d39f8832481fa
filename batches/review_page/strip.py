"""One row for each sample of a batch in the order of the cylinders: figures, what is known of the soil, decision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from batches.causes.kept import AnsweredCause
from batches.computing.models import Result
from batches.planning.models import Run
from batches.repeating.decided import HELD_BACK, WITH_FIGURES, decision_of
from batches.repeating.rules import new_portion_asked_for
from batches.review.examination import ExaminedRun
from batches.review.forms import DecisionForm
from batches.review.models import RunDecision
from batches.review.second import SecondCalculation
from batches.voiding.models import is_void
from particles.distribution import SizeDistribution
from particles.distribution.answer import Estimate
from particles.distribution.causes.cause import Needs
from particles.distribution.spoken import spoken_count


@dataclass(frozen=True)
class Bar:
    """One fraction with the ends of its interval, as a bar from 0 to 100 %."""

    name: str
    estimate: Estimate

    @property
    def value_pct(self) -> float:
        return self.estimate.value_pct

    @property
    def has_interval(self) -> bool:
        return self.estimate.low_pct is not None and self.estimate.high_pct is not None

    @property
    def width_pct(self) -> float:
        """Width of the interval. [percentage points]"""
        low, high = self.estimate.low_pct, self.estimate.high_pct
        return 0.0 if low is None or high is None else high - low


@dataclass(frozen=True)
class StripRow:
    """One sample's run with what a reviewer compares at a glance."""

    run: Run
    result: Result | None
    distribution: SizeDistribution | None
    second: SecondCalculation | None
    waits_for_worker: bool
    choice: str | None
    newest_decision: RunDecision | None
    asked_by_itself: str
    """Why the run asks for a new portion by itself; '' where it does not, or somebody has decided."""
    form: DecisionForm | None
    """Drawn only where somebody is deciding."""
    open_causes: int
    can_be_kept: bool

    @property
    def place(self) -> str:
        """Name of its place on the page."""
        return f"run-{self.run.pk}"

    @property
    def is_void(self) -> bool:
        return is_void(self.run)

    @property
    def felt(self) -> str:
        """Texture by feel, as it was noted."""
        assert self.run.portion is not None
        return str(self.run.portion.decision.field_texture)

    @property
    def bars(self) -> list[Bar]:
        """Sand, silt and clay; empty without figures."""
        if self.distribution is None or self.distribution.fractions is None:
            return []
        parts = self.distribution.fractions.estimates
        return [Bar(name, part) for name, part in zip(("sand", "silt", "clay"), parts, strict=True)]

    @property
    def texture(self) -> Any:
        return None if self.distribution is None else self.distribution.texture

    @property
    def runner_up(self) -> tuple[str, float] | None:
        """The next likely class with its chance, when it has at least one in ten. [%]"""
        chances = () if self.texture is None else self.texture.chances
        others = [(name, 100 * chance) for name, chance in chances if name != self.texture.name]
        best = max(others, key=lambda each: each[1], default=None)
        return best if best is not None and best[1] >= 10 else None

    @property
    def is_drawn(self) -> bool:
        """Whether there is a curve to draw."""
        return self.distribution is not None and bool(self.distribution.curve)


def strip_rows(
    runs: Sequence[ExaminedRun],
    causes: Sequence[AnsweredCause],
    forms: Mapping[str, Any],
    *,
    is_open: bool,
    deciding: int | None,
) -> list[StripRow]:
    """A row for each sample; `deciding` is the result whose form was asked for."""
    waiting = [label for each in causes if each.is_open for label in each.cause.labels]
    return [_row(each, waiting.count(each.run.title), forms, is_open, deciding) for each in runs]


def _row(
    each: ExaminedRun, open_causes: int, forms: Mapping[str, Any], is_open: bool, deciding: int | None
) -> StripRow:
    newest = each.decisions[-1] if each.decisions else None
    form, result = None, each.result
    asked = None if result is None else new_portion_asked_for(result)
    may_decide = is_open and result is not None and each.run.is_reported
    if may_decide and result is not None:
        place = f"decide_{result.pk}"
        undecided = decision_of(result) is None
        form = forms.get(place)
        if form is None and (deciding == result.pk or undecided):
            form = DecisionForm(prefix=place, initial={"choice": decision_of(result)})
    if form is not None and result is not None and not result.certifiable:
        field: Any = form.fields["choice"]
        field.choices = [choice for choice in field.choices if choice[0] not in WITH_FIGURES]
    return StripRow(
        run=each.run,
        result=result,
        distribution=each.distribution,
        second=each.second,
        waits_for_worker=each.waits_for_worker,
        choice=None if result is None else decision_of(result),
        newest_decision=newest,
        asked_by_itself="" if newest is not None or asked is None else asked.reason,
        form=form,
        open_causes=open_causes,
        can_be_kept=may_decide
        and result is not None
        and result.certifiable
        and decision_of(result) not in HELD_BACK,
    )


def asked_for(causes: Sequence[AnsweredCause]) -> str:
    """How many causes wait for a decision and how many for a note, as a sentence; '' where none waits."""
    waiting = [each.cause.needs for each in causes if each.is_open]
    many = {"decision": waiting.count(Needs.DECISION), "note": waiting.count(Needs.NOTE)}
    said = " and ".join(spoken_count(number, what) for what, number in many.items() if number)
    return f"{said} {'is' if sum(many.values()) == 1 else 'are'} asked for" if said else ""
