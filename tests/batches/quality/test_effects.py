"""Each rule of quality control that fired says how many points it moves on whose figures, or that nobody can tell."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.limits.keys import ChartKey, Quantity
from batches.models import Batch
from batches.planning.models import BatchState
from batches.quality.judged_batch import Line, Severity
from batches.review.examination import examine
from batches.review.verdict import verdict_of
from particles.models import MethodEditionRecord, ReferenceSoil
from tests.batches.quality.test_verdict import limits
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)
CLIENT = "1 sample of Example Estate (invented)"


def line_of(batch: Batch, about: str) -> Line:
    fresh = Batch.objects.get(pk=batch.pk)
    [line] = [line for line in verdict_of(fresh, examine(fresh)).lines if line.about == about]
    return line


def figures_of(batch: Batch) -> dict[str, float]:
    """Sand and clay of the one sample of a batch that is reported. [%]"""
    result = result_in_force(batch.reported_runs.get())
    assert result is not None
    parts = result.distribution.fractions
    return {"sand": parts.sand.value_pct, "clay": parts.clay.value_pct}


def overdue(instrument: Any) -> None:
    long_ago = timezone.localdate() - timedelta(days=20)
    type(instrument).objects.filter(pk=instrument.pk).update(due_on=long_ago)


def test_a_reference_soil_tells_the_bias_of_sand_and_clay_on_the_samples_of_the_batch(
    handed_over: Any,
    soil: ReferenceSoil,
    manager: Any,
    qa_officer: Any,
    as_person: Any,
) -> None:
    batch = handed_over(reference_off_g_l=2.0)
    [run] = [run for run in batch.sample_runs if run.is_reference]
    parts = run.results.get().distribution.fractions
    root = MethodEditionRecord.roots()[batch.method_id]
    limits(
        ChartKey(Quantity.REFERENCE_CLAY, soil.pk, root), manager, f"{parts.clay.value_pct - 4:.4f}", "1.0"
    )
    alone = line_of(batch, "reference soil")
    assert alone.effect == (
        f"If the batch is off as its reference soil is, clay reads 4.0 points too high in {CLIENT}. "
        "How far sand is off cannot be computed: no limits of it are entered."
    )
    limits(
        ChartKey(Quantity.REFERENCE_SAND, soil.pk, root), manager, f"{parts.sand.value_pct + 2:.4f}", "3.0"
    )
    said = line_of(batch, "reference soil").effect
    assert said == (
        "If the batch is off as its reference soil is, sand reads 2.0 points too low and clay reads 4.0 points "
        f"too high in {CLIENT}."
    )
    assert said in as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert said in verdict_of(batch, examine(batch)).in_words, "a signature covers it"


def test_a_blank_off_its_limits_tells_what_the_figures_would_be_with_one_at_their_centre(
    handed_over: Any,
    soil: ReferenceSoil,
    bench: Any,
    manager: Any,
) -> None:
    """The same readings beside a blank that was right are the figures it has to come out at."""
    right, high = handed_over(), handed_over(blank_off_g_l=1.5)
    off = {name: value - figures_of(right)[name] for name, value in figures_of(high).items()}
    limits(ChartKey(Quantity.BLANK_LEVEL, bench.lot.pk), manager, "4.5", "0.2")
    line = line_of(high, "blank")
    assert line.severity is Severity.STOP
    assert off["clay"] < -2
    words = [
        f"{name} reads {abs(by):.1f} points too {'high' if by > 0 else 'low'}" for name, by in off.items()
    ]
    assert line.effect == (
        f"If the blank alone lies there, {' and '.join(words)}, at most, in {CLIENT}; "
        "where the cylinders lie there with it, nothing is moved."
    )
    assert line_of(right, "blank").effect == ""


def test_what_cannot_be_computed_is_said_so_with_whom_it_concerns(
    handed_over: Any,
    soil: ReferenceSoil,
) -> None:
    batch = handed_over()
    cylinder = next(run.cylinder for run in batch.sample_runs if run.is_duplicate)
    overdue(cylinder)
    assert line_of(batch, "instruments").effect == (
        "By how many points it moves no client's figures cannot be computed: until it is checked; "
        "a check that finds it as recorded moves nothing."
    )
    overdue(batch.hydrometer)
    assert f"moves {CLIENT} cannot be computed: until it is checked" in line_of(batch, "instruments").effect


def test_no_line_that_did_not_pass_is_without_its_effect_and_none_that_passed_has_one(
    the_client: Any,
    clerk: Any,
    technician: Any,
    bench: Any,
    work_off: Any,
    soil: ReferenceSoil,
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    work_off()
    verdict = verdict_of(batch, examine(batch))
    failed = [line for line in verdict.lines if not line.passed]
    assert {line.about for line in failed} >= {"reference soil", "duplicates"}
    for line in verdict.lines:
        assert bool(line.effect) != line.passed, line
    assert "there is no pair with figures to measure it by" in line_of(batch, "duplicates").effect


def test_a_pair_apart_concerns_its_own_sample_alone(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, manager: Any
) -> None:
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.0, 4.0])
    work_off()
    line = line_of(batch, "duplicates")
    assert not line.passed
    assert line.effect.startswith(f"In {CLIENT}: up to ")
    assert line.effect.endswith(" between its two portions.")


def test_a_blank_without_a_number_stops_the_batch_in_the_same_lines(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    at = timezone.now() - timedelta(days=3)
    job = factories.job(the_client, clerk, at=at)
    portion = factories.portion(factories.prepared(job.samples.get(), technician, at=at), technician, bench)
    batch = Batch.objects.get(pk=factories.batch([portion], technician, bench, at=at).pk)
    assert batch.state == BatchState.DISPERSED
    line = line_of(batch, "blank")
    assert (line.name, line.severity, line.sentence) == ("Blank", Severity.STOP, "The blank has no reading.")
    assert "cannot be computed: limits of its lot, or readings of it, are missing" in line.effect
    assert [each.about for each in verdict_of(batch, examine(batch)).lines] == [
        "blank", "temperature", "reference soil", "duplicates", "instruments", "lot", "soak", "people",
    ]  # fmt: skip
