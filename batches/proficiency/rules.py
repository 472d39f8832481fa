"""Rules of proficiency rounds: who may know, when results are locked, and what a report and its answers need."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from batches.planning.blind import works_at_the_bench
from batches.proficiency.models import (
    FRACTIONS,
    AssignedValue,
    Round,
    RoundLock,
    RoundSample,
    RoundSampleTakenBack,
    ScoreAnswer,
    figures_digest,
)
from batches.proficiency.scores import Assigned, Scores, Verdict, scores
from batches.review.signed import SignedSample, signed_samples
from particles.models import Sample, SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson, WrongState
from particles.records.sentence import is_a_sentence

"""An answer is a sentence, and no “ok”."""
SIGNED = (SampleState.APPROVED, SampleState.REPORTED)


def require_not_at_the_bench(person: Person) -> None:
    """Refuse whoever weighs or reads: they must not know which samples come from a round."""
    if works_at_the_bench(person):
        raise NotThisPerson(
            f"{person} weighs or reads here. Which samples come from a proficiency round is kept from the bench, "
            "so that they are treated like any other."
        )


def open_round(*, provider_code: str, closes_on: date, note: str, by: Person, at: datetime) -> Round:
    """Open a round."""
    require_not_at_the_bench(by)
    if Round.objects.filter(provider_code__iexact=provider_code).exists():
        raise AlreadyThere(f"Round {provider_code} is there already.")
    return Round.objects.create(provider_code=provider_code, closes_on=closes_on, note=note, **done(by, at))


def standing(of: Round) -> list[RoundSample]:
    """Samples of a round, without those put in by mistake."""
    links = of.samples.filter(taken_back__isnull=True).select_related("sample__job", "by")
    return list(links)


@transaction.atomic
def add_sample(of: Round, *, sample: Sample, item: str, by: Person, at: datetime) -> RoundSample:
    """Say that a sample of the laboratory came from a round."""
    require_not_at_the_bench(by)
    _lock_row(of)
    _require_open(of)
    held = RoundSample.objects.filter(sample=sample, taken_back__isnull=True).select_related("round").first()
    if held is not None:
        raise AlreadyThere(f"{sample} is {held} already.")
    if any(each.item.casefold() == item.casefold() for each in standing(of)):
        raise AlreadyThere(f"{item} of {of} is another sample already.")
    return RoundSample.objects.create(round=of, sample=sample, item=item, **done(by, at))


@transaction.atomic
def take_back(link: RoundSample, *, reason: str, by: Person, at: datetime) -> RoundSampleTakenBack:
    """Say that a sample was put into its round by mistake; both rows stay."""
    require_not_at_the_bench(by)
    _lock_row(link.round)
    _require_open(link.round)
    if hasattr(link, "taken_back"):
        raise AlreadyThere(f"{link} was taken back already, by {link.taken_back.by}.")
    if not reason.strip():
        raise NotPossible("Say why the sample is not of this round.")
    return RoundSampleTakenBack.objects.create(link=link, reason=reason, **done(by, at))


def _lock_row(of: Round) -> None:
    Round.objects.select_for_update(no_key=True).get(pk=of.pk)


def _require_open(of: Round) -> None:
    lock = RoundLock.objects.filter(round=of).select_related("by").first()
    if lock is not None:
        raise WrongState(
            f"The results of {of} were locked by {lock.by}; nothing joins or leaves it any more."
        )


@transaction.atomic
def lock_results(of: Round, *, by: Person, at: datetime) -> RoundLock:
    """Copy the signed results of every sample of a round, with a digest; nothing of it is changed ever after."""
    require_not_at_the_bench(by)
    _lock_row(of)
    _require_open(of)
    links = standing(of)
    if not links:
        raise NotPossible(f"{of} holds no sample. Say first which samples came from it.")
    waiting = [each for each in links if each.sample.state not in SIGNED]
    if waiting:
        names = ", ".join(f"{each.sample} is “{each.sample.state}”" for each in waiting)
        raise NotPossible(f"Results are locked once every sample is approved: {names}.")
    signed = signed_samples([each.sample for each in links])
    figures = [_figures(link, each) for link, each in zip(links, signed, strict=True)]
    return RoundLock.objects.create(round=of, figures=figures, digest=figures_digest(figures), **done(by, at))


def _figures(link: RoundSample, signed: SignedSample) -> dict[str, Any]:
    """One sample as it is locked: figures as signed, what they rest on, and every attempt at it."""
    distribution = signed.distribution if signed.is_reported else None
    fractions = None if distribution is None else distribution.fractions
    return {
        "link": link.pk,
        "item": link.item,
        "lab_number": link.sample.lab_number,
        "batch": signed.batch.number,
        "inputs_digest": signed.result.inputs_digest,
        "engine_version": signed.result.engine_version,
        "without_figures": ""
        if fractions is not None
        else signed.without_figures or "No figures at size limits.",
        "attempts": [
            {"attempt": each.attempt, "reason": each.reason}
            for each in link.sample.portions.filter(duplicate_of__isnull=True).order_by("attempt")
        ],
        "figures": {}
        if fractions is None
        else {name: _estimate(getattr(fractions, name)) for name in FRACTIONS},
    }


def _estimate(estimate: Any) -> dict[str, float | None]:
    return {"value_pct": estimate.value_pct, "standard_uncertainty_pct": estimate.standard_uncertainty_pct}


def locked_figure(link: RoundSample, fraction: str) -> dict[str, float | None] | None:
    """The locked figure of one fraction of a sample; None before the lock and where no figures were signed."""
    lock = RoundLock.objects.filter(round=link.round_id).first()
    entries: Sequence[dict[str, Any]] = [] if lock is None else lock.figures
    entry = next((each for each in entries if each["link"] == link.pk), None)
    return None if entry is None else entry["figures"].get(fraction)


@transaction.atomic
def enter_assigned(
    link: RoundSample,
    *,
    fraction: str,
    value_pct: Decimal,
    sigma_pt_pct: Decimal,
    uncertainty_pct: Decimal,
    participants_pct: list[Decimal],
    reason: str,
    by: Person,
    at: datetime,
) -> AssignedValue:
    """Enter one figure of the report; results must have been locked before, and a correction says why."""
    require_not_at_the_bench(by)
    _lock_row(link.round)
    lock = RoundLock.objects.filter(round=link.round).first()
    if lock is None:
        raise WrongState(f"Lock the results of {link.round} first: its report is entered after that.")
    if hasattr(link, "taken_back"):
        raise NotPossible(f"{link} was taken back; it has no results in this round.")
    if locked_figure(link, fraction) is None:
        raise NotPossible(f"{link} was locked without figures: there is no {fraction} to score.")
    earlier = AssignedValue.objects.filter(link=link, fraction=fraction).order_by("-attempt").first()
    if earlier is not None and not reason.strip():
        raise AlreadyThere(
            f"{earlier} is {earlier.value_pct.normalize():f} % already, typed by {earlier.by}. "
            "To correct it, say why; both stay."
        )
    return AssignedValue.objects.create(
        lock=lock,
        link=link,
        fraction=fraction,
        attempt=1 if earlier is None else earlier.attempt + 1,
        value_pct=value_pct,
        sigma_pt_pct=sigma_pt_pct,
        uncertainty_pct=uncertainty_pct,
        participants_pct=participants_pct,
        reason=reason if earlier is not None else "",
        **done(by, at),
    )


def scores_of(assigned: AssignedValue) -> Scores:
    """Scores of the locked figure that an assigned value is about."""
    figure = locked_figure(assigned.link, assigned.fraction)
    assert figure is not None, "an assigned value is taken only for a locked figure"
    value_pct = figure["value_pct"]
    assert value_pct is not None, "a fraction has a value"
    return scores(value_pct, figure["standard_uncertainty_pct"], as_plain(assigned))


def as_plain(assigned: AssignedValue) -> Assigned:
    """An entered value as the arithmetic takes it."""
    return Assigned(float(assigned.value_pct), float(assigned.sigma_pt_pct), float(assigned.uncertainty_pct))


@transaction.atomic
def answer(assigned: AssignedValue, *, cause: str, action: str, by: Person, at: datetime) -> ScoreAnswer:
    """Keep the answer to scores that are not satisfactory."""
    require_not_at_the_bench(by)
    _lock_row(assigned.link.round)
    newest = AssignedValue.objects.filter(link=assigned.link, fraction=assigned.fraction).order_by(
        "-attempt"
    )[0]
    if newest.pk != assigned.pk:
        raise WrongState(
            f"{newest.by} has corrected the report meanwhile. Read the scores as they stand now."
        )
    if hasattr(assigned, "answer"):
        raise AlreadyThere(
            f"{assigned.answer.by} has answered this score already; both would be read as one."
        )
    if scores_of(assigned).worst is Verdict.SATISFACTORY:
        raise NotPossible("The scores are satisfactory: nothing asks for an answer.")
    for words, what in (
        (cause, "what was looked at and found"),
        (action, "what is done, by whom, until when"),
    ):
        if not is_a_sentence(words):
            raise NotPossible(f"Say in a sentence {what}.")
    return ScoreAnswer.objects.create(assigned=assigned, cause=cause, action=action, **done(by, at))
