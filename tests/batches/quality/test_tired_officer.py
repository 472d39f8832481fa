"""A tired officer who takes every list choice and types a few words signs no figure that is likely wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.utils import timezone

from batches.causes.printed import exchanges_considered
from batches.limits.keys import ChartKey, Quantity
from batches.limits.rules import answer_point
from batches.models import Batch
from batches.quality.judged_batch import Severity as Weight
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT
from batches.quality.reference import reference_not_counted
from batches.review import rules as approval
from batches.review.examination import examine
from batches.review.signed import signed_samples
from batches.review.verdict import verdict_of
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import LIKELY_ODDS, Cause, Effect, Needs, Remedy
from particles.distribution.triple import SandSiltClay
from particles.models import MethodEditionRecord, ReferenceSoil
from particles.records.refusals import NotPossible
from tests.batches.causes.test_answers_fall import EXCHANGE, ONE, OTHER, answer, only
from tests.batches.quality.test_verdict import limits
from tests.conftest import SECRET
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)
TIRED = "The bench sheet was compared and agrees."
STANDS = {"choice": "figures stand", "evidence": "compared"}
MOVE = Effect(ONE, SandSiltClay(40.0, 40.0, 20.0), SandSiltClay(13.0, 41.0, 46.0), "loam", "silty clay")


def exchange(odds: float) -> Cause:
    return replace(EXCHANGE, odds=odds, effects=(MOVE, replace(MOVE, label=OTHER)))


def test_a_likely_exchange_is_not_dismissed_by_the_records_it_puts_in_doubt(
    plant: Callable[[Cause], Batch], qa_officer: Any, as_person: Any
) -> None:
    batch = plant(exchange(LIKELY_ODDS))
    [form] = [
        row.form
        for row in as_person(qa_officer).get(f"/review/{batch.number}/").context["causes"]
        if row.form
    ]
    assert [value for value, _ in form.fields["evidence"].choices] == ["", "second portion"]
    for evidence in ("compared", "felt again", "retained soil", "weighed again"):
        with pytest.raises(NotPossible, match=r"The records of .* are what is doubted"):
            answer(batch, qa_officer, note=TIRED, choice="figures stand", evidence=evidence)
    with pytest.raises(NotPossible, match=r"No second portion of .* is on record"):
        answer(batch, qa_officer, note=TIRED, choice="figures stand", evidence="second portion")
    assert only(batch).is_open
    assert answer(batch, qa_officer, choice="without figures", labels=[ONE, OTHER]).labels == [ONE, OTHER]


def test_an_exchange_that_moves_little_or_is_less_likely_is_compared_with_the_sheet(
    plant: Callable[[Cause], Batch], qa_officer: Any
) -> None:
    batch = plant(exchange(LIKELY_ODDS - 1))
    assert answer(batch, qa_officer, note=TIRED, **STANDS).pk


@pytest.mark.parametrize(
    ("odds", "printed", "says"), [(3.0, False, True), (0.5, True, True), (0.5, False, False)]
)
def test_figures_that_stand_against_an_exchange_say_so_on_the_certificate(
    plant: Callable[[Cause], Batch], qa_officer: Any, odds: float, printed: bool, says: bool
) -> None:
    batch = plant(exchange(odds))
    answer(batch, qa_officer, note=TIRED, printed=printed, **STANDS)
    settle(batch, qa_officer)
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    runs = {run.title: run for run in batch.reported_runs}
    [signed] = signed_samples([runs[ONE].sample])
    told = [each for each in signed.findings if each.code == "exchange_considered"]
    assert bool(told) is says
    for each in told:
        assert "bench sheet or photograph compared" in each.sentence
        assert "by up to 27 points" in each.sentence
        assert OTHER not in each.sentence, "a client reads nothing of another client's sample"
    assert set(exchanges_considered(batch)) == ({ONE, OTHER} if says else set())


def test_a_pair_beyond_its_action_limit_does_not_stand(
    plant: Callable[[Cause], Batch], qa_officer: Any, as_person: Any
) -> None:
    pair = Cause(
        kind=DUPLICATE_OUTSIDE_LIMIT, severity=Severity.STOP, sentence="Two portions differ by 14.6 points.",
        next_step="Analyse again.", labels=(ONE,), remedy=Remedy.AGAIN, needs=Needs.DECISION,
    )  # fmt: skip
    batch = plant(pair)
    [form] = [
        row.form
        for row in as_person(qa_officer).get(f"/review/{batch.number}/").context["causes"]
        if row.form
    ]
    assert [value for value, _ in form.fields["choice"].choices] == ["repeat", "without figures"]
    with pytest.raises(NotPossible, match="a pair beyond its action limit; its figures cannot stand"):
        answer(batch, qa_officer, note=TIRED, **STANDS)


def test_of_a_cause_that_touches_no_clients_sample_nothing_is_held_back(
    plant: Callable[[Cause], Batch], qa_officer: Any, as_person: Any
) -> None:
    batch = plant(replace(exchange(1.0), labels=("a duplicate",), effects=()))
    page = as_person(qa_officer).get(f"/review/{batch.number}/")
    [form] = [row.form for row in page.context["causes"] if row.form]
    assert [value for value, _ in form.fields["choice"].choices] == ["figures stand"]
    assert "labels" not in form.fields
    assert answer(batch, qa_officer, note=TIRED, **STANDS).labels == []


@pytest.mark.parametrize(
    "words",
    ["everything is ok here today", "looked at it and nothing follows from it", "all is well with it"],
)
def test_words_that_name_nothing_are_refused_and_the_refusal_says_what_is_missing(
    plant: Callable[[Cause], Batch], qa_officer: Any, words: str
) -> None:
    batch = plant(exchange(1.0))
    with pytest.raises(NotPossible, match="Name the thing, such as a sheet, a cylinder or a figure"):
        answer(batch, qa_officer, note=words, **STANDS)


def beyond(batch: Batch, soil: ReferenceSoil, by: Any) -> Any:
    """Limits by which the reference soil of the batch lies five standard deviations off in clay; its run."""
    [run] = [run for run in batch.sample_runs if run.is_reference]
    parts = run.results.get().distribution.fractions
    root = MethodEditionRecord.roots()[batch.method_id]
    limits(ChartKey(Quantity.REFERENCE_CLAY, soil.pk, root), by, f"{parts.clay.value_pct - 5:.4f}", "1.0")
    return run


def line_of_reference(batch: Batch) -> Any:
    [line] = [line for line in verdict_of(batch, examine(batch)).lines if line.about == "reference soil"]
    return line


@pytest.mark.parametrize("counts", [True, False])
def test_a_reference_soil_off_its_value_keeps_figures_back_unless_a_cause_was_found(
    handed_over: Any, soil: ReferenceSoil, manager: Any, qa_officer: Any, counts: bool
) -> None:
    """Bench fault 98: whoever finds no cause has no figures to release."""
    batch = handed_over(reference_off_g_l=2.0)
    run = beyond(batch, soil, manager)
    why = "The beaker cards and the curve of the cylinder were compared."
    answer_point(Quantity.REFERENCE_CLAY, run, counts=counts, reason=why, by=qa_officer, at=timezone.now())
    line = line_of_reference(batch)
    assert line.severity is (Weight.STOP if counts else Weight.WARN)
    settle(batch, qa_officer)
    if counts:
        with pytest.raises(NotPossible, match=r"off as its reference soil is.*Such a batch is only returned"):
            approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
        return
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    [signed] = signed_samples([batch.reported_runs.get().sample])
    [told] = [each for each in signed.findings if each.code == "reference_soil_not_counted"]
    assert "it lay off its assigned value, and a cause was found in its own cylinder" in told.sentence


def test_a_reference_soil_within_its_limits_leaves_nothing_to_print(
    handed_over: Any, soil: ReferenceSoil
) -> None:
    assert reference_not_counted(handed_over()) == []
