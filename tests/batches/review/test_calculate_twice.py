"""The stored figures beside an independent calculation, and what its disagreement stops."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from batches.review import second as second_calculation
from batches.review.examination import examine
from particles.distribution import Correction, compute_distribution
from particles.second.independent import Recalculation, recalculate
from tests.conftest import SECRET
from tests.support.reviewing import look_at_quality, settle
from tests.support.runs import NINE, good_run

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def planted(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The second calculation finds this much more clay."""

    def by(points: float) -> None:
        def other(record: Any, method: Any) -> Recalculation:
            found = recalculate(record, method)
            assert found.clay_pct is not None
            return replace(found, clay_pct=found.clay_pct + points)

        monkeypatch.setattr(second_calculation, "recalculate", other)

    return by


def page(client: Any, batch: Any) -> str:
    answer = client.get(f"/review/{batch.number}/")
    assert answer.status_code == 200
    return str(answer.content.decode())


def sign_with_every_note(client: Any, batch: Any, qa_officer: Any) -> Any:
    settle(batch, qa_officer)
    return client.post(f"/review/{batch.number}/approve/", {"sign-secret": SECRET})


def test_agreement_is_shown_beside_the_figures(submitted_batch: Any, qa_officer: Any, as_person: Any) -> None:
    look_at_quality(submitted_batch, qa_officer)
    shown = page(as_person(qa_officer), submitted_batch)
    assert "agrees in 1 of 1 runs" in shown
    assert "calculated twice" not in shown


def test_a_planted_difference_stops_the_signature(
    submitted_batch: Any, qa_officer: Any, as_person: Any, planted: Any
) -> None:
    planted(0.25)
    client = as_person(qa_officer)
    look_at_quality(submitted_batch, qa_officer)
    shown = page(client, submitted_batch)
    assert "differs by 0.250000 points: clay" in shown
    assert "calculated twice" in shown
    refused = sign_with_every_note(client, submitted_batch, qa_officer)
    assert refused.status_code == 409
    assert "The second calculation differs by 0.250000 points" in refused.content.decode()
    submitted_batch.refresh_from_db()
    assert submitted_batch.state == "submitted for review"


@pytest.mark.parametrize(("points", "status"), [(5e-7, 302), (2e-6, 409)])
def test_the_limit_lies_at_a_millionth_of_a_point(
    submitted_batch: Any, qa_officer: Any, as_person: Any, planted: Any, points: float, status: int
) -> None:
    planted(points)
    assert sign_with_every_note(as_person(qa_officer), submitted_batch, qa_officer).status_code == status


def test_a_rule_without_a_second_calculation_is_named_and_stops_nothing() -> None:
    record = replace(good_run(), correction=Correction.NONE)
    stored = compute_distribution(good_run(), NINE, draws=0)
    found = second_calculation.second_calculation(record, NINE, stored)
    assert not found.differs
    assert found.sentence == "No second calculation: Recalculated with a measured blank only, not with: none."


def test_a_figure_only_one_of_the_two_has_is_a_difference() -> None:
    stored = replace(compute_distribution(good_run(), NINE, draws=0), fractions=None)
    found = second_calculation.second_calculation(good_run(), NINE, stored)
    assert found.differs
    assert "clay no figure here and" in found.sentence


def test_a_method_by_time_is_compared_point_by_point() -> None:
    method = replace(NINE, certifiable=False)
    stored = compute_distribution(good_run(), method, draws=0)
    found = second_calculation.second_calculation(good_run(), method, stored)
    assert len(found.pairs) == len(stored.points)
    assert not found.differs


def test_a_run_without_figures_has_nothing_to_compare(running: Any) -> None:
    assert [each.second for each in examine(running.batch)] == [None, None]
