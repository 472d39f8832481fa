"""The laboratory's own between-run figure: from which pairs, from when on, and that it stays for a batch."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from math import sqrt
from typing import Any

import pytest
from django.db import ProgrammingError, transaction
from django.utils import timezone

from batches.balance.advice import weighing_advice
from batches.computing.models import result_in_force
from batches.computing.record import gather
from batches.models import Batch, ComputationRequest, PairReview
from batches.quality.own_figure import own_spread, standing_pairs
from batches.quality.pairs import pairs_among
from batches.quality.statistics import spread_of
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


def test_seven_pairs_do_not_suffice(approved: Any) -> None:
    batch = approved(OFF_G_L[:7])
    assert len(standing_pairs(batch.method)) == 7
    assert own_spread(batch.method, at=timezone.now()) is None


def test_eight_pairs_give_the_figure_of_new_batches(
    approved: Any, the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, as_person: Any
) -> None:
    first = approved(OFF_G_L)
    assert first.between_run_sd_pct is None, "no pairs stood when its soak began"
    own = own_spread(first.method, at=timezone.now())
    assert own is not None
    clay_points_per_g_l = 100 / (40 / (1 + 0.2 / 9.8))
    expected = clay_points_per_g_l * sqrt(sum(each**2 for each in OFF_G_L) / 16)
    # Read off between points, a little more than the shift of one reading.
    assert (own.pairs, own.clay_pct) == (8, pytest.approx(expected, rel=0.02))
    assert float(own.sd_pct) == pytest.approx(max(own.sand_pct, own.clay_pct), abs=0.0005)

    at = timezone.now()
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    assert batch.between_run_sd_pct is None, "its soak began before the pairs were approved"
    Batch.objects.filter(pk=first.pk).update(approved_at=at - timedelta(days=5))
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    assert (batch.between_run_sd_pct, batch.between_run_pairs) == (own.sd_pct, 8)
    run = batch.sample_runs.get()
    assert gather(run).between_run_sd_pct == float(own.sd_pct)
    assert gather(run).between_run_pairs == 8
    work_off()
    distribution = result_in_force(run).distribution
    assert distribution.between_run_sd_pct == float(own.sd_pct)
    assert any("from the laboratory's duplicates, 8 pairs)" in note for note in distribution.notes)
    words = f"{own.sd_pct:.2f} points, the laboratory&#x27;s own from 8 duplicates"
    shown = as_person(technician).get(f"/runs/{run.pk}/").content.decode()
    assert words.replace("&#x27;", "'") in shown.replace("&#x27;", "'")


def test_the_advice_at_the_balance_counts_with_the_figure_the_batch_will_have(approved: Any) -> None:
    first = approved(OFF_G_L)
    at = timezone.now()
    own, edition = own_spread(first.method, at=at), first.method.edition
    assert own is not None

    def variance(run: Any) -> float:
        predicted = weighing_advice("loam", first.method, run, 2.65, at).predicted
        assert predicted is not None
        return predicted.recommended.clay_standard_uncertainty_pct**2

    begun = variance(first.reported_runs[0])
    assert variance(None) - begun == pytest.approx(float(own.sd_pct) ** 2 - edition.dispersion_sd_pct**2)


def test_the_figure_stays_for_its_batch_whatever_pairs_come_later(
    approved: Any, the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    first = approved(OFF_G_L)
    before_any = factories.measured_batch(the_client, clerk, technician, bench).sample_runs.get()
    Batch.objects.filter(pk=first.pk).update(approved_at=timezone.now() - timedelta(days=5))
    run = factories.measured_batch(the_client, clerk, technician, bench).sample_runs.get()
    edition = run.batch.method.edition
    digests = [record_digest(gather(each), edition) for each in (before_any, run)]
    approved([2.0])
    assert own_spread(first.method, at=timezone.now()).sd_pct != run.batch.between_run_sd_pct  # type: ignore[union-attr]
    for each in (before_any, run):
        each.refresh_from_db()
        each.batch.refresh_from_db()
    assert [record_digest(gather(each), edition) for each in (before_any, run)] == digests
    assert gather(before_any).between_run_sd_pct is None
    for change in ({"between_run_sd_pct": "0.500"}, {"between_run_sd_pct": None, "between_run_pairs": None}):
        with pytest.raises(ProgrammingError, match="Cannot update"), transaction.atomic():
            Batch.objects.filter(pk=run.batch.pk).update(**change)


def test_pairs_older_than_a_year_no_longer_count(approved: Any) -> None:
    batch = approved(OFF_G_L)
    at = batch.approved_at + timedelta(days=364)
    assert own_spread(batch.method, at=at) is not None
    assert own_spread(batch.method, at=at + timedelta(days=2)) is None
    assert len(standing_pairs(batch.method)) == 8, "they stay in the table"


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
    assert [len(standing_pairs(each)) for each in (own, earlier, other)] == [1, 1, 0]


def test_newest_first_with_both_figures(approved: Any) -> None:
    earlier, later = approved([0.5]), approved([1.0])
    found = standing_pairs(later.method)
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
    assert standing_pairs(batch.method) == []


def test_a_superseded_result_leaves_the_pairs(approved: Any, technician: Any) -> None:
    batch = approved([0.5, 1.0])
    superseded = batch.sample_runs.filter(portion__duplicate_of__isnull=False).order_by("portion_id").first()
    assert superseded is not None
    ComputationRequest.objects.create(
        run=superseded, inputs_digest="0" * 64, turn=2, asked_by=technician, asked_at=timezone.now()
    )
    left = standing_pairs(batch.method)
    assert [pair.duplicate_run for pair in left] == [
        run.pk for run in batch.sample_runs if run.is_duplicate and run.pk != superseded.pk
    ]


@pytest.mark.parametrize(("cause_found", "left"), [(True, 1), (False, 2)])
def test_a_pair_leaves_when_its_cause_was_found_and_stays_when_not(
    approved: Any, cause_found: bool, left: int
) -> None:
    batch = approved([0.5, 3.0], cause_found=cause_found)
    assert PairReview.objects.get().severity == "stop"
    assert len(standing_pairs(batch.method)) == left


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
    assert standing_pairs(batch.method) == []


def test_equal_pairs_or_wild_ones_give_no_figure(approved: Any) -> None:
    batch = approved([0.5])
    (pair,) = standing_pairs(batch.method)
    assert spread_of([pair] * 8) is not None
    equal = type(pair)(**(vars(pair) | {"sand_pct": (40.0, 40.0), "clay_pct": (20.0, 20.0)}))
    wild = type(pair)(**(vars(pair) | {"clay_pct": (20.0, 45.0)}))
    assert spread_of([equal] * 8) is None
    assert spread_of([wild] * 8) is None
