"""A program with a new engine: what was approved is issued as approved, what was not is computed again."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from batches.computing.models import result_in_force
from batches.models import Result
from batches.review import rules as approval
from particles.records.refusals import NotPossible
from reports.certificates.rules import issue_certificate
from tests.conftest import SECRET
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)


def test_an_approved_job_is_issued_with_the_figures_that_were_signed(
    approved_job: Any, manager: Any, new_engine: Any
) -> None:
    signed = set(Result.objects.values_list("pk", flat=True))
    new_engine()
    certificate = issue_certificate(approved_job, by=manager, at=timezone.now(), secret=SECRET)
    assert set(certificate.results.values_list("pk", flat=True)) <= signed
    assert {s["engine_version"] for s in certificate.context["samples"]} != {"99.0.0"}


def test_a_batch_computed_by_the_old_engine_is_asked_for_again_when_it_is_handed_over(
    the_client: Any, clerk: Any, technician: Any, bench: Any, work_off: Any, new_engine: Any
) -> None:
    batch = factories.measured_batch(the_client, clerk, technician, bench)
    work_off()
    new_engine()
    with pytest.raises(NotPossible, match="Not computed yet"):
        approval.submit(batch, by=technician, at=timezone.now())
    assert work_off() == 1
    approval.submit(batch, by=technician, at=timezone.now())
    assert result_in_force(batch.sample_runs.get()).engine_version == "99.0.0"
