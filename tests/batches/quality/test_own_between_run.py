"""The laboratory's own spread between runs: from which pairs, entered by whom, and that it stays for a batch."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import ProgrammingError, transaction
from django.utils import timezone

from batches.balance.advice import weighing_advice
from batches.computing.models import result_in_force
from batches.computing.record import gather
from batches.limits.judging import Proposal
from batches.limits.keys import ChartKey, Quantity
from batches.limits.rules import answer_point, chart_of, enter_limits
from batches.models import Batch, ComputationRequest, LimitsVersion, PairReview, Run
from batches.quality.own_figure import compared_pairs
from batches.quality.pairs import pairs_among
from batches.quality.robust import sd_of_pairs
from batches.review import rules as approval
from particles.distribution import edition_to_plain, record_digest
from particles.models import MethodEditionRecord
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)

OFF_G_L = [0.5, -0.5, 0.5, 0.0, 0.5, -0.5, 1.0, 0.5]
"""Of duplicates: eight pairs, each within its limits."""


@pytest.fixture
def approved(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> Callable[..., Batch]:
    """A batch of pairs, signed. Beyond the limits each pair gets a note, beyond the action limit a repeat."""

    def made(off_g_l: list[float], *, cause_found: bool = False) -> Batch:
        now = timezone.now()
        batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=off_g_l)
        assert work_off() >= 2 * len(off_g_l)
        approval.submit(batch, by=technician, at=now)
        runs = list(batch.sample_runs)
        for pair in pairs_among([(run, result_in_force(run)) for run in runs], batch):
            if pair.severity:
                note = "Looked at sheet and tray."
                approval.review_pair(
                    pair.duplicate, note=note, cause_found=cause_found, by=qa_officer, at=now
                )
            if pair.severity == "stop" and pair.first_result is not None:
                approval.decide(pair.first_result, "repeat", note="Apart.", by=qa_officer, at=now)
        settle(batch, qa_officer)
        why = "Each pair stood in its own two cylinders."
        approval.approve(batch, by=qa_officer, at=now, secret=SECRET, why_rest=why)
        batch.refresh_from_db()
        return batch

    return made


CLAY, SAND = Quantity.DUPLICATES_CLAY, Quantity.DUPLICATES_SAND


def chart(method: MethodEditionRecord, quantity: Quantity, at: Any = None) -> Any:
    return chart_of(ChartKey(quantity, 0, MethodEditionRecord.roots()[method.pk]), at or timezone.now())


def entered(method: MethodEditionRecord, by: Any, *quantities: Quantity) -> list[LimitsVersion]:
    """What the program proposes, entered by a person."""
    made = []
    for quantity in quantities or (SAND, CLAY):
        proposal = chart(method, quantity).proposal
        assert isinstance(proposal, Proposal), proposal
        now = timezone.now() - timedelta(days=4)  # the factories' batches begin their soak a day later
        made.append(
            enter_limits(
                ChartKey(quantity, 0, MethodEditionRecord.roots()[method.pk]),
                sd=Decimal(str(round(proposal.sd, 3))),
                rise=Decimal(str(round(proposal.rise, 3))),
                in_force_from=now,
                reason="Eight pairs of the first weeks.",
                seen=0,
                by=by,
                at=now,
            )
        )
    return made


def test_seven_pairs_do_not_suffice(approved: Any) -> None:
    batch = approved(OFF_G_L[:7])
    assert len(compared_pairs(batch.method)) == 7
    assert chart(batch.method, CLAY).proposal == "Points that count: 7. Limits are proposed from 8 on."


def test_eight_pairs_give_a_proposal_and_nothing_is_in_force_by_it(
    approved: Any, the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    first = approved(OFF_G_L)
    proposal = chart(first.method, CLAY).proposal
    assert isinstance(proposal, Proposal)
    clay_points_per_g_l = 100 / (40 / (1 + 0.2 / 9.8))
    expected = sd_of_pairs([(clay_points_per_g_l * each, 0.0) for each in OFF_G_L])
    # Read off between points, a little more than the shift of one reading.
    assert (len(proposal.runs), proposal.sd) == (8, pytest.approx(expected, rel=0.02))
    later = factories.measured_batch(the_client, clerk, technician, bench)
    assert later.between_run_of("clay") is None, "nobody has entered it"
    assert later.between_run_in_force("clay").at(20) == first.method.edition.dispersion_sd_pct


def test_what_a_person_entered_is_bound_when_a_soak_begins(
    approved: Any,
    the_client: Any,
    clerk: Any,
    technician: Any,
    qa_officer: Any,
    bench: Any,
    work_off: Any,
    as_person: Any,
) -> None:
    first = approved(OFF_G_L)
    sand, clay = entered(first.method, qa_officer)
    assert (sand.by, sand.points) == (qa_officer, 8)
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    run = batch.sample_runs.get()
    assert gather(run).between_run_clay == clay.spread
    assert gather(run).between_run_sand == sand.spread
    assert sand.sd != clay.sd, "each has its own"
    work_off()
    distribution = result_in_force(run).distribution
    assert distribution.between_run_sd_pct == pytest.approx(float(max(sand.sd, clay.sd)))
    assert any("(from the laboratory's duplicates)" in note for note in distribution.notes)
    shown = as_person(technician).get(f"/runs/{run.pk}/").content.decode()
    assert f"sand {float(sand.sd):.2f}, clay {float(clay.sd):.2f} points, the laboratory" in shown


def test_the_advice_at_the_balance_counts_with_the_figure_the_batch_will_have(
    approved: Any, qa_officer: Any
) -> None:
    first = approved(OFF_G_L)
    [clay] = entered(first.method, qa_officer, CLAY)
    at, edition = timezone.now(), first.method.edition

    def variance(run: Any) -> float:
        predicted = weighing_advice("loam", first.method, run, 2.65, at).predicted
        assert predicted is not None
        return predicted.recommended.clay_standard_uncertainty_pct**2

    begun = variance(first.reported_runs[0])
    assert variance(None) - begun == pytest.approx(float(clay.sd) ** 2 - edition.dispersion_sd_pct**2)


def test_the_figure_stays_for_its_batch_whatever_comes_later(
    approved: Any, the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any
) -> None:
    first = approved(OFF_G_L)
    before_any = factories.measured_batch(the_client, clerk, technician, bench).sample_runs.get()
    entered(first.method, qa_officer)
    run = factories.measured_batch(the_client, clerk, technician, bench).sample_runs.get()
    edition = run.batch.method.edition
    digests = [record_digest(gather(each), edition) for each in (before_any, run)]
    approved([2.0])
    for each in (before_any, run):
        each.refresh_from_db()
        each.batch.refresh_from_db()
    assert [record_digest(gather(each), edition) for each in (before_any, run)] == digests
    assert gather(before_any).between_run_clay is None
    for change in ({"between_run_clay_pct": "0.500"}, {"between_run_sand_pct": None}):
        with pytest.raises(ProgrammingError, match="Cannot update"), transaction.atomic():
            Batch.objects.filter(pk=run.batch.pk).update(**change)


def test_pairs_older_than_a_year_no_longer_count(approved: Any) -> None:
    batch = approved(OFF_G_L)
    at = batch.soak_started_at + timedelta(days=364)
    assert isinstance(chart(batch.method, CLAY, at).proposal, Proposal)
    assert isinstance(chart(batch.method, CLAY, at + timedelta(days=2)).proposal, str)
    assert len(chart(batch.method, CLAY, at + timedelta(days=2)).judged) == 8, "they stay on the chart"


def test_a_pair_beyond_the_action_limit_never_counts_until_somebody_says_why(
    approved: Any, qa_officer: Any
) -> None:
    """A mix-up with its box left unticked once widened every interval for a year."""
    apart = approved([0.5, 8.0], cause_found=False)
    approved(OFF_G_L)
    found = chart(apart.method, CLAY)
    [wild] = found.waiting
    assert not wild.counts
    assert "1 point waits for an answer" in found.proposal.words
    quiet = found.proposal.sd
    run = Run.objects.get(pk=wild.point.run)
    words = "Sheet, tray and masses looked at; no cause found."
    answer_point(Quantity.DUPLICATES_CLAY, run, counts=True, reason=words, by=qa_officer, at=timezone.now())
    answered = chart(apart.method, CLAY)
    assert answered.waiting == []
    assert len(answered.proposal.runs) == len(found.proposal.runs) + 1
    assert answered.proposal.sd < 1.3 * quiet, "and one pair among ten hardly moves a robust spread"
    answer_point(
        Quantity.DUPLICATES_CLAY,
        run,
        counts=False,
        reason="The two bags were mixed up on the tray.",
        by=qa_officer,
        at=timezone.now(),
    )
    assert chart(apart.method, CLAY).proposal.runs == found.proposal.runs, "the newest answer holds"


def test_editions_of_one_method_share_their_pairs_and_others_do_not(approved: Any) -> None:
    batch = approved([0.5])
    plain = edition_to_plain(batch.method.edition)
    own = MethodEditionRecord.enter_own(
        plain | {"code": "our-four-2027-1", "follows": plain["code"]}, at=timezone.now()
    )
    earlier = MethodEditionRecord.objects.get(code="hydrometer-four-2026-1")
    other = MethodEditionRecord.objects.get(code="hydrometer-nine-2026-4")
    between = {f"hydrometer-four-2026-{number}" for number in (2, 3)}
    family = {own.code, earlier.code, *between, batch.method.code}
    assert own.family() == earlier.family() == family
    assert [len(compared_pairs(each)) for each in (own, earlier, other)] == [1, 1, 0]


def test_newest_first_with_both_figures(approved: Any) -> None:
    earlier, later = approved([0.5]), approved([1.0])
    found = compared_pairs(later.method)
    assert [pair.batch_number for pair in found] == [later.number, earlier.number]
    first, duplicate = later.sample_runs.order_by("portion_id")
    assert found[0].clay_pct == tuple(
        result_in_force(run).distribution.fractions.clay.value_pct for run in (first, duplicate)
    )
    assert found[0].lab_number == first.sample.lab_number


def test_a_batch_not_yet_signed_gives_no_pair(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any
) -> None:
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    work_off()
    approval.submit(batch, by=technician, at=timezone.now())
    assert compared_pairs(batch.method) == []


def test_a_superseded_result_leaves_the_pairs(approved: Any, technician: Any) -> None:
    batch = approved([0.5, 1.0])
    superseded = batch.sample_runs.filter(portion__duplicate_of__isnull=False).order_by("portion_id").first()
    assert superseded is not None
    ComputationRequest.objects.create(
        run=superseded, inputs_digest="0" * 64, turn=2, asked_by=technician, asked_at=timezone.now()
    )
    left = compared_pairs(batch.method)
    assert [pair.duplicate_run for pair in left] == [
        run.pk for run in batch.sample_runs if run.is_duplicate and run.pk != superseded.pk
    ]


def test_a_pair_whose_cause_the_reviewer_found_counts_for_nothing(approved: Any) -> None:
    batch = approved([0.5, 3.0], cause_found=True)
    assert PairReview.objects.get().severity == "stop"
    assert [pair.why_out for pair in compared_pairs(batch.method)] == [
        "",
        "a cause was found: Looked at sheet and tray",
    ]


def test_a_first_portion_repeated_for_another_reason_leaves_the_pairs(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> None:
    now = timezone.now()
    batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[0.5])
    work_off()
    approval.submit(batch, by=technician, at=now)
    result = result_in_force(batch.reported_runs.get())
    settle(batch, qa_officer)
    approval.decide(result, "repeat", note="Spilt while filling.", by=qa_officer, at=now)
    approval.approve(batch, by=qa_officer, at=now, secret=SECRET)
    assert [p.why_out for p in compared_pairs(batch.method)] == [
        "the reviewer decided on the first portion: repeat"
    ]
