"""
What asks for a new portion by itself, and every attempt at a sample.

Which result is reported is settled before the new one is seen: that of the new portion, whatever it is. All
attempts are counted and shown beside it, also those that were never reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from batches.computing.models import Result
from batches.planning.models import BatchState, Run
from batches.review.models import RunDecision
from batches.voiding.models import RunVoid, void_of
from particles.distribution import Fractions, Sight
from particles.models import Portion, Sample

RULE_BEFORE = "The result of the new portion will be the one that is reported, whatever it is."
SALTS_FIRST = "Wash the soluble salts out before the new portion is dispersed."
FLOCCULATION = ("flocculation_suspected", "flocculated")
"""Codes of findings that say from the readings that the clay was lost."""
OF_THE_BLANK = "its blank is void"
"""Beginning of the void of a run whose blank is void: the fault is not the sample's."""


@dataclass(frozen=True)
class NewPortion:
    """Why a run asks for a new portion by itself."""

    cause: str
    salts_first: bool = False

    @property
    def reason(self) -> str:
        """The cause, what to do first, and the rule for the result, as sentences."""
        first = f" {SALTS_FIRST}" if self.salts_first else ""
        return f"{self.cause[0].upper()}{self.cause[1:]}.{first}"


def asked_by_void(in_words: str) -> NewPortion:
    """The new portion that a void run asks for, by the words of its void."""
    return NewPortion(in_words, salts_first=in_words.startswith(RunVoid.Why.FLOCCULATED))


def new_portion_asked_for(result: Result) -> NewPortion | None:
    """
    The new portion that a run asks for by itself: void, spilled, or flocculated as somebody saw.

    Clear liquid over a sharp front, seen by a person, confirms what the readings say of lost clay; neither does alone.
    """
    void = str(result.inputs.get("void") or "")
    if void and not void.startswith(OF_THE_BLANK):
        return asked_by_void(void)
    seen = {each["what"] for each in result.inputs.get("seen") or [] if not each.get("at_blank")}
    if Sight.SPILL in seen:
        return NewPortion(str(RunVoid.Why.SPILL.value))
    if Sight.CLEAR_ABOVE in seen and any(flag.code in FLOCCULATION for flag in result.flags.all()):
        return NewPortion(str(RunVoid.Why.FLOCCULATED.value), salts_first=True)
    return None


@dataclass(frozen=True)
class Attempt:
    """One portion of a sample that was, or is to be, analysed; duplicates are no attempts."""

    portion: Portion
    run: Run | None
    """None while the portion stands in no batch."""
    result: Result | None
    """The one in force; None while there is none."""
    decision: RunDecision | None
    """The newest of a reviewer."""

    @property
    def number(self) -> int:
        """Which attempt it is, from 1."""
        return int(self.portion.attempt)

    @property
    def asked(self) -> NewPortion | None:
        """The new portion it asks for by itself; before anything is computed, from its void."""
        if self.result is not None:
            return new_portion_asked_for(self.result)
        void = None if self.run is None else void_of(self.run)
        return None if void is None else asked_by_void(void.in_words)

    @property
    def fractions(self) -> Fractions | None:
        """Fractions of the result in force; None without figures, or when the run is void."""
        if self.is_void or self.result is None or self.result.distribution is None:
            return None
        return self.result.distribution.fractions

    @property
    def is_void(self) -> bool:
        """Whether its run is void."""
        return self.run is not None and void_of(self.run) is not None

    @property
    def what_became_of_it(self) -> str:
        """What became of the attempt, in words."""
        if self.run is None:
            return "not in a batch yet"
        void = void_of(self.run)
        if void is not None:
            return f"void: {void.in_words}"
        if self.decision is not None and self.decision.choice != RunDecision.Choice.REPORT:
            return f"{self.decision.choice}: {self.decision.note}"
        return str(self.run.batch.state)


def attempts_of(sample: Sample) -> list[Attempt]:
    """Every attempt at a sample, the first first, whether reported or not."""
    return attempts_at([sample])[sample.pk]


def attempts_at(samples: Sequence[Sample]) -> dict[int, list[Attempt]]:
    """Every attempt at each of these samples, by primary key; the number of queries does not grow with them."""
    portions = (
        Portion.objects.filter(sample__in=samples, duplicate_of__isnull=True)
        .select_related("sample", "run__batch", "run__cylinder")
        .prefetch_related(
            "run__voids__lifted", "run__requests", "run__results__flags", "run__results__decisions"
        )
        .order_by("attempt")
    )
    found: dict[int, list[Attempt]] = {sample.pk: [] for sample in samples}
    for portion in portions:
        found[portion.sample_id].append(_attempt(portion))
    return found


def _attempt(portion: Portion) -> Attempt:
    run: Any = getattr(portion, "run", None)
    request = None if run is None else max(run.requests.all(), key=lambda each: each.turn, default=None)
    result = request and next((each for each in run.results.all() if each.request_id == request.pk), None)
    decisions = [] if result is None else result.decisions.all()
    return Attempt(portion, run, result, max(decisions, key=lambda each: each.pk, default=None))


_LOST = (BatchState.REJECTED, BatchState.ABORTED)


def why_another_portion(sample: Sample) -> str:
    """Why the sample needs a further portion, from its last attempt and the batch of that; '' when there is none."""
    last = next(reversed(attempts_of(sample)), None)
    if last is None or last.run is None:
        return ""
    asked = last.asked
    repeated = last.decision is not None and last.decision.choice == RunDecision.Choice.REPEAT
    said = [asked.reason] if asked is not None else []
    if repeated and last.decision is not None:
        said.append(last.decision.note)
    if said:
        return " ".join(said)
    move = last.run.batch.moves.order_by("pk").last()
    return f"{last.run.batch} {move.to_state}: {move.reason}" if move and move.to_state in _LOST else ""


def salts_to_wash_out(sample: Sample) -> bool:
    """Whether an earlier portion of the sample flocculated, so that its salts are to be washed out first."""
    return salts_lost(attempts_of(sample))


def salts_lost(attempts: Sequence[Attempt]) -> bool:
    """Whether one of these attempts flocculated."""
    return any(each.asked is not None and each.asked.salts_first for each in attempts)
