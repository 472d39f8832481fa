"""From a logged job to an approved batch, by the functions the screens call."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.review import rules as approval
from tests.conftest import SECRET
from tests.support import factories
from tests.support.reviewing import settle

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_loam_goes_from_the_bag_to_an_approved_result(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    assert batch.state == "readings complete"
    assert work_off() == 1

    run = batch.sample_runs.get()
    assert result_in_force(run).certifiable, [f.sentence for f in result_in_force(run).flags.all()]
    approval.submit(batch, by=technician, at=timezone.now())
    settle(batch, qa_officer)
    approval.approve(batch, by=qa_officer, at=timezone.now(), secret=SECRET)

    batch.refresh_from_db()
    run.portion.sample.refresh_from_db()
    assert (batch.state, run.portion.sample.state) == ("approved", "approved")
    fractions = result_in_force(run).distribution.fractions
    assert fractions.sand.value_pct + fractions.silt.value_pct + fractions.clay.value_pct == pytest.approx(
        100
    )
