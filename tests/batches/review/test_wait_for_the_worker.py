"""A run that is only not computed yet asks for nothing but waiting."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from batches.causes.kept import find_for_pages
from batches.causes.rules import answer_cause
from batches.exchanging import rules as putting_right
from batches.models import Batch, RunDecision
from batches.review.examination import examine
from batches.review_page.waiting import waiting_batches
from particles.distribution.answer import Severity
from particles.distribution.causes.cause import Cause, Needs
from particles.records.refusals import NotPossible
from tests.support.reviewing import WORDS, causes_of, look_at_quality

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def waiting(submitted_batch: Batch, qa_officer: Any, second_officer: Any, as_person: Any) -> Batch:
    """Looked at by the officer; then a mass is put right while no worker runs."""
    look_at_quality(submitted_batch, qa_officer)
    assert as_person(qa_officer).get(f"/review/{submitted_batch.number}/").status_code == 200
    run = submitted_batch.sample_runs.get()
    right = {"mass_g": Decimal("46.00"), "reason": "The balance's print says 46.00 g."}
    putting_right.put_mass_right(run.portion, "portion", **right, by=second_officer, at=timezone.now())
    return Batch.objects.get(pk=submitted_batch.pk)


def test_it_is_said_and_no_choice_is_offered(waiting: Batch, qa_officer: Any, as_person: Any) -> None:
    client, address = as_person(qa_officer), f"/review/{waiting.number}/"
    client.post(f"{address}quality/", {"look-note": "Pairs and blank were looked at once more."})
    page = client.get(address)
    shown = page.content.decode()
    assert "Figures wait for the worker" in shown
    assert ">waits for the worker</td>" in shown[shown.index("Since you last looked") :], (
        "since the officer last looked"
    )
    assert "no figures" not in shown[shown.index("Since you last looked") : shown.index("Quality control")]
    assert "The run cannot be computed" not in shown
    assert "without figures" not in shown
    assert [row.form for row in page.context["causes"] if row.needs_decision] == []
    assert "26-00001: waits for the worker." in page.context["against"]
    assert "1 run waits for the worker" in client.get("/review/").content.decode()


def test_the_list_counts_what_waits_until_it_is_computed(waiting: Batch, work_off: Any) -> None:
    assert [(row.uncomputed, row.decisions) for row in waiting_batches(at=timezone.now())] == [(1, 0)]
    work_off()
    assert [row.uncomputed for row in waiting_batches(at=timezone.now())] == [0]


@pytest.mark.parametrize("choice", ["without figures", "repeat"])
def test_an_answer_that_decides_of_it_is_refused_in_words(
    monkeypatch: pytest.MonkeyPatch, waiting: Batch, qa_officer: Any, choice: str
) -> None:
    found = Cause(
        kind="hand_disagrees", severity=Severity.WARN, sentence="Felt as sand.", next_step="Feel it.",
        labels=("26-00001",), needs=Needs.DECISION,
    )  # fmt: skip
    monkeypatch.setattr("batches.causes.kept.find_causes", lambda *_: (found,))
    find_for_pages(waiting, examine(waiting), at=timezone.now())
    [each] = causes_of(waiting)
    with pytest.raises(NotPossible, match="26-00001: its figures wait for the worker"):
        answer_cause(
            waiting, each.cause.key, choice=choice, note=WORDS, labels=["26-00001"], by=qa_officer, at=timezone.now()
        )  # fmt: skip
    assert not RunDecision.objects.exists()
