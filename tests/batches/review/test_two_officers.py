"""Two officers at one batch, pages that have grown old, and forms sent twice: nobody acts on what is not shown."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import Batch, BatchMove, CauseAnswer, RunDecision
from batches.planning.freshness import acts_since, page_version
from batches.review import rules as approval
from particles.records.refusals import AlreadyThere, WrongState
from tests.batches.review.test_sign_everything_shown import note_all
from tests.conftest import SECRET
from tests.support.reviewing import look_at_quality, settle

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "The blank had no dispersant."


def test_signing_after_a_rejection_hears_who_rejected_it_when_and_why(
    submitted_batch: Batch, qa_officer: Any, second_officer: Any, as_person: Any
) -> None:
    note_all(submitted_batch, qa_officer)
    first, second = as_person(qa_officer), as_person(second_officer)
    address = f"/review/{submitted_batch.number}/"
    seen = first.get(address).context["version"]
    assert second.post(f"{address}reject/", {"reject-reason": WHY}).status_code == 302
    answer = first.post(f"{address}approve/", {"sign-secret": SECRET, "sign-seen": seen})
    assert answer.status_code == 409
    shown = answer.content.decode()
    moved_at = timezone.localtime(BatchMove.objects.get(to_state="rejected").at)
    said = f"{second_officer} rejected this batch, {moved_at:%-d %b %Y at %H:%M}: {WHY} Nothing was signed."
    notices = shown[shown.index('class="notices"') : shown.index('class="page-head"')]
    assert said in notices, "at the top, where every page shows it"
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "rejected"


def open_cause(client: Any, address: str) -> Any:
    """The first cause that waits for an answer, as the page shows it."""
    return next(row for row in client.get(address).context["causes"] if row.form is not None)


def test_an_answer_on_an_older_page_is_refused_with_what_was_done_since_and_what_was_typed_stays(
    stopped_batch: Batch, qa_officer: Any, second_officer: Any, as_person: Any
) -> None:
    run = stopped_batch.sample_runs.get()
    result = result_in_force(run)
    assert result is not None
    client, address = as_person(qa_officer), f"/review/{stopped_batch.number}/"
    look_at_quality(stopped_batch, qa_officer)
    seen, row = client.get(address).context["version"], open_cause(client, address)
    approval.decide(result, "repeat", note="It rose.", by=second_officer, at=timezone.now())
    typed = {
        "choice": "repeat",
        "labels": run.title,
        "note": "The stem was wet when it was read at 60 s.",
        "seen": seen,
    }
    sent = {f"{row.place}-{name}": value for name, value in typed.items()}
    answer = client.post(f"{address}causes/{row.cause.key}/", sent)
    assert answer.status_code == 409
    shown = answer.content.decode()
    assert f"Since this page was opened: {second_officer}" in shown
    assert "run decision (It rose.). The answer was not kept." in shown
    assert "The stem was wet when it was read at 60 s." in shown
    assert not CauseAnswer.objects.exists()
    assert page_version(stopped_batch) in shown, "sent again, it is sent from the newest page"
    again = sent | {f"{row.place}-seen": page_version(stopped_batch)}
    assert client.post(f"{address}causes/{row.cause.key}/", again).status_code == 302


def test_a_refused_answer_is_told_in_sight_with_its_words_when_the_causes_are_hidden_again(
    stopped_batch: Batch, qa_officer: Any, second_officer: Any, as_person: Any
) -> None:
    """Quality control says something else by now, which hides causes and samples until it is looked at."""
    run = stopped_batch.sample_runs.get()
    client, address = as_person(qa_officer), f"/review/{stopped_batch.number}/"
    look_at_quality(stopped_batch, qa_officer)
    seen, row = client.get(address).context["version"], open_cause(client, address)
    typed = {
        "choice": "repeat",
        "labels": run.title,
        "note": "The stem was wet when it was read at 60 s.",
        "seen": seen,
    }
    sent = {f"{row.place}-{name}": value for name, value in typed.items()}
    newer = {"note": "Pairs and blank were looked at once more.", "said": "Said otherwise.", "passed": False}
    stopped_batch.quality_looks.create(by=second_officer, at=timezone.now(), **newer)
    answer = client.post(f"{address}causes/{row.cause.key}/", sent)
    assert answer.status_code == 409
    shown = answer.content.decode()
    assert "Causes and samples are shown when quality control has been looked at." in shown
    told = shown[shown.index("Not done") : shown.index("Quality control")]
    assert f"Since this page was opened: {second_officer}" in told
    assert "The stem was wet when it was read at 60 s." in told
    assert "analyse the marked samples again" in told
    gone = client.post(f"{address}causes/0123456789abcdef/", {"cause-0123456789abcdef-note": "Kept words."})
    assert gone.status_code == 409
    assert "That cause is not found any more" in gone.content.decode()
    assert "Kept words." in gone.content.decode()


def test_ones_own_answers_make_no_page_too_old_for_the_next_one(
    stopped_batch: Batch, qa_officer: Any
) -> None:
    seen = page_version(stopped_batch)
    settle(stopped_batch, qa_officer, seen=seen)
    assert len(acts_since(stopped_batch, seen)) >= CauseAnswer.objects.count() > 0


def test_a_signature_needs_the_newest_page_also_after_ones_own_acts(
    stopped_batch: Batch, qa_officer: Any
) -> None:
    seen = page_version(stopped_batch)
    note_all(stopped_batch, qa_officer)
    result = result_in_force(stopped_batch.sample_runs.get())
    assert result is not None
    approval.decide(result, "repeat", note="It rose.", by=qa_officer, at=timezone.now())
    with pytest.raises(AlreadyThere, match=r"Nothing was signed\. Read what stands now"):
        approval.approve(stopped_batch, by=qa_officer, at=timezone.now(), secret=SECRET, seen=seen)
    with pytest.raises(AlreadyThere, match="does not say which version"):
        approval.approve(stopped_batch, by=qa_officer, at=timezone.now(), secret=SECRET, seen="no")
    approval.approve(
        stopped_batch, by=qa_officer, at=timezone.now(), secret=SECRET, seen=page_version(stopped_batch)
    )


def test_every_act_of_review_sent_twice_is_one(stopped_batch: Batch, qa_officer: Any, as_person: Any) -> None:
    client, address = as_person(qa_officer), f"/review/{stopped_batch.number}/"
    run = stopped_batch.sample_runs.get()
    result = result_in_force(run)
    assert result is not None
    look_at_quality(stopped_batch, qa_officer)
    row, page = open_cause(client, address), client.get(address).context["version"]
    cause = {"choice": "without figures", "labels": run.title, "note": "Looked at the sheet again."}
    sent = [
        (
            f"{address}causes/{row.cause.key}/",
            {f"{row.place}-{name}": value for name, value in cause.items()},
            row.place,
        ),
        (
            f"/review/results/{result.pk}/decide/",
            {f"decide_{result.pk}-choice": "repeat", f"decide_{result.pk}-note": "It rose."},
            f"decide_{result.pk}",
        ),
        (f"{address}return/", {"return-reason": "Read it again."}, "return"),
    ]
    for where, typed, prefix in sent:
        for _ in range(2):
            assert client.post(where, typed | {f"{prefix}-seen": page}).status_code == 302, where
    assert CauseAnswer.objects.filter(key=row.cause.key).count() == 1
    assert RunDecision.objects.count() == 2, "one by the cause, one by itself"
    assert BatchMove.objects.filter(to_state="returned to bench").count() == 1


def test_a_batch_never_handed_over_says_where_it_stands(measured: Batch, qa_officer: Any) -> None:
    with pytest.raises(WrongState, match="not submitted for review"):
        approval.return_to_bench(measured, by=qa_officer, at=timezone.now(), reason="Look again.")
