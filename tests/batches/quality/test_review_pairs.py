"""What a reviewer does about two runs of one sample; the limits are 2.8 and 3.69 times 1.5 points here."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from batches.causes.kept import find_for_pages
from batches.computing.models import result_in_force
from batches.models import Batch, Flag, FlagReview, PairReview
from batches.quality.pairs import Pair, pair_of
from batches.quality.verdict import verdict_of
from batches.review import rules as approval
from batches.review.examination import examine
from batches.review.signing import signed_results
from particles.models import Portion
from particles.records.refusals import NotPossible, NotThisPerson, WrongState
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import look_at_quality, settle

pytestmark = pytest.mark.django_db(transaction=True)

WITHIN_G_L, BEYOND_G_L, FAR_BEYOND_G_L = 0.5, 2.0, 3.0
"""1.3, 5.1 and 7.7 points of clay: 1 g/L is 2.55 points of a portion of 39.2 g. Sand moves a little more."""


@pytest.fixture
def submitted(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Callable[[], int]
) -> Callable[..., Pair]:
    def made(off_g_l: float) -> Pair:
        batch = factories.measured_pairs(the_client, clerk, technician, bench, off_g_l=[off_g_l])
        assert work_off() == 2
        approval.submit(batch, by=technician, at=timezone.now())
        found = pair_of(batch.reported_runs.get())
        assert found is not None
        return found

    return made


@pytest.fixture
def approve(qa_officer: Any) -> Callable[[Batch], None]:
    def sign(batch: Batch) -> None:
        settle(batch, qa_officer, pairs=False)
        approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)

    return sign


def test_the_difference_is_that_of_the_two_results(submitted: Any) -> None:
    pair = submitted(WITHIN_G_L)
    clay = [
        result_in_force(run).distribution.fractions.clay.value_pct for run in (pair.first, pair.duplicate)
    ]
    found = {each.name: each for each in pair.differences}
    assert found["clay"].difference_pct == pytest.approx(clay[1] - clay[0])
    assert found["clay"].difference_pct == pytest.approx(100 * 0.5 / (40 / 1.0204), abs=0.05)
    assert (pair.severity, pair.sentence) == ("", "")
    limits = [(each.warn_pct, each.stop_pct) for each in pair.differences]
    assert limits == [(pytest.approx(4.2), pytest.approx(5.528, abs=0.001))] * 2


def test_a_pair_within_its_limits_asks_for_nothing(
    submitted: Any, approve: Any, qa_officer: Any, as_person: Any
) -> None:
    pair = submitted(WITHIN_G_L)
    batch = pair.first.batch
    look_at_quality(batch, qa_officer)
    shown = as_person(qa_officer).get(f"/review/{batch.number}/").content.decode()
    assert "First portions" not in shown
    assert "compared, not reported" in shown
    assert f"decide_{pair.duplicate_result.pk}" not in shown
    with pytest.raises(NotPossible, match="lies within its limits"):
        approval.review_pair(
            pair.duplicate, note="Fine.", cause_found=False, by=qa_officer, at=timezone.now()
        )
    approve(batch)
    sample = pair.first.sample
    sample.refresh_from_db()
    batch.refresh_from_db()
    assert (batch.state, sample.state) == ("approved", "approved")
    signed = signed_results(batch)
    assert set(signed) == {pair.first.pk, pair.duplicate.pk}, "the signature covers the duplicate too"


def test_beyond_the_limit_nothing_is_signed_without_a_note(
    submitted: Any, approve: Any, qa_officer: Any, as_person: Any
) -> None:
    pair = submitted(BEYOND_G_L)
    assert pair.severity == "warn"
    assert "differ by 5.4 percentage points of sand; the repeatability limit is 4.2." in pair.sentence
    with pytest.raises(NotPossible, match="differs from its duplicate"):
        approval.approve(pair.first.batch, by=qa_officer, at=timezone.now(), secret=SECRET)
    client, address = as_person(qa_officer), f"/review/pairs/{pair.duplicate.pk}/"
    place = f"pair_{pair.duplicate.pk}"
    said = {f"{place}-note": "Bag is uneven.", f"{place}-in_own_figure": "keep in"}
    assert client.post(address, said | {f"{place}-note": ""}).status_code == 422
    assert client.post(address, said).status_code == 302
    again = client.post(address, said | {f"{place}-note": "Bag is very uneven."})
    assert again.status_code == 409
    kept = PairReview.objects.get()
    assert (kept.sentence, kept.cause_found, kept.by) == (pair.sentence, False, qa_officer)
    shown = client.get(f"/review/{pair.first.batch.number}/").content.decode()
    assert "Bag is uneven." in shown
    approve(pair.first.batch)
    pair.first.batch.refresh_from_db()
    assert pair.first.batch.state == "approved"


@pytest.mark.parametrize(("choice", "cause_found"), [("leave out", True), ("keep in", False)])
def test_whether_a_pair_counts_in_the_laboratorys_own_figure_has_to_be_chosen(
    submitted: Any, qa_officer: Any, as_person: Any, choice: str, cause_found: bool
) -> None:
    pair = submitted(FAR_BEYOND_G_L)
    client, address, place = as_person(qa_officer), f"/review/pairs/{pair.duplicate.pk}/", "pair_"
    place += str(pair.duplicate.pk)
    shown = client.get(f"/review/{pair.first.batch.number}/").content.decode()
    boxes = re.findall(rf'<input type="radio" name="{place}-in_own_figure"[^>]*>', shown)
    assert len(boxes) == 2
    assert not any("checked" in box for box in boxes)
    note = {f"{place}-note": "Both beakers were looked at again, nothing was found."}
    refused = client.post(address, note)
    assert refused.status_code == 422
    assert "Choose one." in refused.content.decode()
    assert not PairReview.objects.exists()
    assert client.post(address, note | {f"{place}-in_own_figure": choice}).status_code == 302
    assert PairReview.objects.get().cause_found is cause_found


def test_a_pair_is_judged_by_limits_that_are_named(submitted: Any) -> None:
    """Without a version of limits the method's own repeatability judges: 2.8 and 3.69 standard deviations."""
    pair = submitted(FAR_BEYOND_G_L)
    [line] = [line for line in verdict_of(pair.first.batch).lines if line.about == "duplicates"]
    widest = pair.widest
    assert line.word == "did not pass"
    assert "no limits were in force" not in line.sentence
    assert f"action limit {widest.stop_pct:.2f}" in line.sentence
    assert line.sentence.count("Limits by the method's repeatability, from its edition.") == 1
    assert widest.stop_pct == pytest.approx(3.69 * widest.sd_pct, rel=0.002)


def test_beyond_the_action_limit_the_first_portion_is_not_reported(
    submitted: Any, approve: Any, qa_officer: Any
) -> None:
    pair, now = submitted(FAR_BEYOND_G_L), timezone.now()
    assert (pair.severity, pair.first_result.certifiable) == ("stop", True)
    with pytest.raises(NotPossible, match="A stop needs a sentence"):
        approval.review_pair(pair.duplicate, note="Seen.", cause_found=False, by=qa_officer, at=now)
    note = "No cause found on sheet or tray."
    approval.review_pair(pair.duplicate, note=note, cause_found=False, by=qa_officer, at=now)
    with pytest.raises(NotPossible, match="beyond the action limit; decide"):
        approval.approve(pair.first.batch, by=qa_officer, at=now, secret=SECRET)
    with pytest.raises(NotPossible, match="Report it without figures, or repeat it"):
        approval.decide(pair.first_result, "report", note="", by=qa_officer, at=now)
    approval.decide(pair.first_result, "repeat", note="Pair apart.", by=qa_officer, at=now)
    approve(pair.first.batch)
    sample = pair.first.sample
    sample.refresh_from_db()
    assert sample.state == "prepared"
    again = Portion.take(sample, by=qa_officer, at=now, reason="Pair apart.")
    assert again.attempt == 2


def test_a_duplicate_is_never_decided_upon(submitted: Any, qa_officer: Any) -> None:
    pair = submitted(WITHIN_G_L)
    for choice in ("report", "without figures", "repeat"):
        with pytest.raises(NotPossible, match="never reported"):
            approval.decide(pair.duplicate_result, choice, note="Why.", by=qa_officer, at=timezone.now())


def test_no_flag_of_a_duplicate_is_printed(submitted: Any, qa_officer: Any) -> None:
    pair = submitted(WITHIN_G_L)
    Flag.objects.create(
        result=pair.duplicate_result,
        code="invented",
        severity="stop",
        sentence="Invented.",
        next_step="None.",
    )
    find_for_pages(pair.first.batch, examine(pair.first.batch), at=timezone.now())
    settle(pair.first.batch, qa_officer)
    kept = FlagReview.objects.filter(flag__result=pair.duplicate_result)
    assert {review.flag.code: review.printed for review in kept}["invented"] is False
    assert not any(review.printed for review in kept)


def test_who_worked_in_the_batch_says_nothing_to_its_pairs(submitted: Any, technician: Any) -> None:
    pair = submitted(BEYOND_G_L)
    with pytest.raises(NotThisPerson):
        approval.review_pair(
            pair.duplicate, note="Mine.", cause_found=False, by=technician, at=timezone.now()
        )


@pytest.mark.parametrize("person", ["clerk", "technician", "manager", "custodian", "client_person"])
def test_who_may_not_review_a_pair(
    submitted: Any, as_person: Any, request: pytest.FixtureRequest, person: str
) -> None:
    pair = submitted(BEYOND_G_L)
    client = as_person(request.getfixturevalue(person))
    answer = client.post(f"/review/pairs/{pair.duplicate.pk}/", {f"pair_{pair.duplicate.pk}-note": "Fine."})
    assert answer.status_code == 403
    assert not PairReview.objects.exists()


def test_a_first_portion_is_no_address_of_a_pair(submitted: Any, qa_officer: Any, as_person: Any) -> None:
    pair = submitted(BEYOND_G_L)
    assert as_person(qa_officer).post(f"/review/pairs/{pair.first.pk}/", {}).status_code == 404


def test_a_corrected_reading_makes_another_pair_and_asks_for_another_note(
    submitted: Any, technician: Any, qa_officer: Any, work_off: Any
) -> None:
    pair, now = submitted(BEYOND_G_L), timezone.now()
    batch = pair.first.batch
    approval.review_pair(pair.duplicate, note="Bag is uneven.", cause_found=False, by=qa_officer, at=now)
    approval.return_to_bench(batch, by=qa_officer, at=now, reason="Read the sheet again.")
    with pytest.raises(WrongState):
        approval.review_pair(pair.duplicate, note="Late.", cause_found=False, by=qa_officer, at=now)
    typed = {"slot_s": 86400, "state": "read", "elapsed_s": 86400, "temperature_c": "20.0", "source": "paper"}
    factories.stored("reading", technician, run=pair.duplicate.pk, reading="11.8", reason="Misread.", **typed)
    assert work_off() == 1
    batch.refresh_from_db()
    approval.submit(batch, by=technician, at=now)
    corrected = pair_of(pair.first)
    assert corrected is not None
    assert corrected.duplicate_result != pair.duplicate_result
    assert corrected.review is None


def test_rejecting_frees_each_sample_once(submitted: Any, qa_officer: Any) -> None:
    pair = submitted(BEYOND_G_L)
    approval.reject(pair.first.batch, by=qa_officer, at=timezone.now(), reason="Wrong lot.")
    sample = pair.first.sample
    sample.refresh_from_db()
    assert sample.state == "prepared"
