"""The verdict on a batch: one line for each thing, which rule fired, and what keeps it from being released."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from batches.causes.evidence import assigned_to
from batches.limits.keys import ChartKey, Quantity
from batches.limits.points import blank_level_g_l, reference_points
from batches.limits.rules import answer_point, enter_limits
from batches.models import Batch
from batches.quality.judged_batch import Line, Severity
from batches.quality.verdict import verdict_of
from batches.review import rules as approval
from batches.review_page.waiting import waiting_batches
from particles.distribution.inputs.noise import temperature_shift_g_l
from particles.distribution.record import HydrometerScale
from particles.models import MethodEditionRecord, ReferenceSoil
from particles.records.refusals import NotPossible
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import settle
from tests.support.runs import STEM_152H

pytestmark = pytest.mark.django_db(transaction=True)
LONG_AGO = timedelta(days=9)


def limits(key: ChartKey, by: Any, centre: str, sd: str) -> None:
    at = timezone.now() - LONG_AGO
    enter_limits(key, centre=Decimal(centre), sd=Decimal(sd), in_force_from=at, seen=0, by=by, at=at,
                 document="Runs of 2025 (invented)", reason="The assigned value of the first year.")  # fmt: skip


def of(batch: Batch, about: str) -> Line:
    [line] = [line for line in verdict_of(batch).lines if line.about == about]
    return line


def clay_key(batch: Batch, soil: ReferenceSoil) -> ChartKey:
    return ChartKey(Quantity.REFERENCE_CLAY, soil.pk, MethodEditionRecord.roots()[batch.method_id])


def test_a_clean_batch_passes_line_by_line_in_a_constant_number_of_queries(
    handed_over: Any, soil: Any, manager: Any
) -> None:
    first = handed_over()
    counts = []
    for batch in (first, handed_over()):
        with CaptureQueriesContext(connection) as asked:
            verdict = verdict_of(batch)
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 25
    assert verdict.passed
    assert [line.about for line in verdict.lines] == [
        "blank", "temperature", "reference soil", "duplicates", "instruments", "lot", "soak", "people",
    ]  # fmt: skip
    for about in ("blank", "temperature", "reference soil"):
        line = of(first, about)
        assert line.word == "not judged", "not judged is not passed"
        assert "not judged: no limits were in force that day" in line.sentence
        assert "Limits that are entered on its chart judge" in line.to_be_judged
    assert of(first, "duplicates").word == "passed"
    assert of(first, "duplicates").sentence.endswith(
        "Limits by the method's repeatability, from its edition."
    )
    assert "Blank: not judged." in verdict.in_words
    assert "Worked in it, and may not sign: " in of(first, "people").sentence


def test_bench_fault_98_a_reference_soil_beyond_three_deviations_keeps_the_batch_from_release(
    handed_over: Any, soil: Any, manager: Any, qa_officer: Any, as_person: Any
) -> None:
    """Bench fault 98."""
    batch = handed_over(reference_off_g_l=2.0)
    [run] = [run for run in batch.sample_runs if run.is_reference]
    clay_pct = run.results.get().distribution.fractions.clay.value_pct
    limits(clay_key(batch, soil), manager, f"{clay_pct - 4:.2f}", "1.0")
    verdict = verdict_of(batch)
    [line] = verdict.stops
    assert (line.about, line.rule, line.runs) == (
        "reference soil",
        "one point beyond 3 standard deviations",
        (run.pk,),
    )
    assert "PMC3909142" in line.source
    assert line.number == pytest.approx(clay_pct)
    assert line.version is not None
    assert "Sandbank: clay" in line.sentence
    settle(batch, qa_officer)
    page = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    signature = page.split('id="signature"')[1].split('id="return"')[0]
    assert signature.count("Sandbank: clay") == signature.count("It touches every run, and so") == 1
    assert "Why what went wrong does not touch the other samples" not in signature, (
        "no reason releases a part"
    )
    with pytest.raises(NotPossible, match="Sandbank: clay") as refused:
        approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    assert str(refused.value).count("Sandbank: clay") == 1, "said once"
    words = "The wrong bin was opened; the blank and both portions agree."
    answer_point(Quantity.REFERENCE_CLAY, run, counts=False, reason=words, by=qa_officer, at=timezone.now())
    answered = verdict_of(batch)
    assert answered.stops == ()
    assert not answered.passed
    assert f"Answered by Quinn Example: {words}" in of(batch, "reference soil").sentence


def test_bench_fault_99_a_failing_reference_soil_is_not_run_away_from(
    handed_over: Any, soil: Any, manager: Any, qa_officer: Any
) -> None:
    """Bench fault 99: the failing attempt stays on its chart when the batch is rejected and run again."""
    failed = handed_over(reference_off_g_l=2.0)
    approval.reject(failed, by=qa_officer, at=timezone.now(), reason="The reference soil lies far out.")
    again = handed_over()
    key = clay_key(again, soil)
    assert [point.batch for point in reference_points(soil.pk)[key]] == [failed.number, again.number]


def test_bench_fault_66_a_blank_read_warmer_has_the_same_level_at_20_c() -> None:
    """Bench fault 66: what temperature does to a blank is no move of its level."""
    warmer = temperature_shift_g_l(HydrometerScale.GRAMS_PER_LITRE, 22.0)
    assert warmer < -0.3
    at_20, at_22 = (
        blank_level_g_l(STEM_152H, [(4.5 + shift, c)]) for shift, c in ((0.0, 20.0), (warmer, 22.0))
    )
    assert at_22 == pytest.approx(at_20)


@pytest.mark.parametrize(("off_g_l", "number"), [(1.5, 67), (-4.0, 68)])
def test_bench_faults_67_and_68_a_blank_that_rose_or_was_made_without_dispersant_stops_the_batch(
    handed_over: Any, bench: Any, manager: Any, off_g_l: float, number: int
) -> None:
    """Bench faults 67 and 68: beyond the limits of its lot, at a steady temperature."""
    batch = handed_over(blank_off_g_l=off_g_l)
    limits(ChartKey(Quantity.BLANK_LEVEL, bench.lot.pk), manager, "4.5", "0.2")
    line = of(batch, "blank")
    assert (line.severity, line.rule) == (Severity.STOP, "one point beyond 3 standard deviations"), number
    assert line.runs == (batch.blank.pk,)


def test_bench_fault_63_an_instrument_that_was_not_in_service_that_day_is_told(
    handed_over: Any, bench: Any
) -> None:
    """Bench fault 63, as review sees it: withdrawn later is in service that day, overdue that day is not."""
    batch = handed_over()
    hydrometer = batch.hydrometer
    hydrometer.withdraw(on=timezone.localdate(), reason="Cracked.")
    assert of(batch, "instruments").passed
    type(hydrometer).objects.filter(pk=hydrometer.pk).update(due_on=timezone.localdate() - timedelta(days=20))
    batch = Batch.objects.get(pk=batch.pk)
    assert "hydrometer H-1 was overdue" in of(batch, "instruments").sentence


def test_a_batch_without_its_reference_soil_or_its_duplicate_says_so(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, soil: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    for about, words in (
        ("reference soil", "though there is one"),
        ("duplicates", "the laboratory's rule asks for 1"),
    ):
        line = of(batch, about)
        assert line.severity is Severity.WARN
        assert words in line.sentence


def test_what_no_rule_asks_for_and_the_batch_does_not_hold_did_not_pass(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    line = of(batch, "reference soil")
    assert (line.passed, line.judged, line.word) == (True, False, "none")
    assert "Reference soil: none. The laboratory has no reference soil in use." in verdict_of(batch).in_words


def test_the_laboratorys_own_soil_is_no_client(
    handed_over: Any, soil: Any, qa_officer: Any, as_person: Any
) -> None:
    batch, own = handed_over(), soil.sample.job.client.name
    [row] = [row for row in waiting_batches(at=timezone.now()) if row.batch == batch]
    assert row.clients
    assert own not in row.clients
    settle(batch, qa_officer)
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert own not in shown
    assert "the laboratory’s own" in shown


def test_the_causes_know_a_reference_soil_by_the_limits_a_person_entered(
    handed_over: Any, soil: Any, manager: Any
) -> None:
    batch = handed_over()
    [run] = [run for run in batch.sample_runs if run.is_reference]
    clay = clay_key(batch, soil)
    limits(clay, manager, "22.0", "0.8")
    assert assigned_to(run, at=timezone.now()) is None  # its sand is not known yet
    limits(ChartKey(Quantity.REFERENCE_SAND, soil.pk, clay.method), manager, "30.0", "1.1")
    known = assigned_to(run, at=timezone.now())
    assert known is not None
    assert known.percents == (30.0, 48.0, 22.0)
    assert (known.sand_sd_pct, known.clay_sd_pct) == (1.1, 0.8)
    assert assigned_to(run, at=timezone.now() - 2 * LONG_AGO) is None
