"""Jobs and certificates for the tests of this app."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from particles.models import Job
from reports.certificates.models import Certificate
from reports.certificates.rules import issue_certificate
from tests.conftest import SECRET
from tests.support.approved import make_approved_job


@pytest.fixture
def approved_job(
    the_client: Any, clerk: Any, technician: Any, qa_officer: Any, bench: Any, work_off: Callable[[], int]
) -> Job:
    """Two samples of `the_client`, both approved, the second to be reported without figures."""
    return make_approved_job(the_client, clerk, technician, qa_officer, bench, work_off)


@pytest.fixture
def certificate(approved_job: Job, manager: Any) -> Certificate:
    return issue_certificate(approved_job, by=manager, at=timezone.now(), secret=SECRET)


@pytest.fixture
def amended(certificate: Certificate, manager: Any) -> Certificate:
    """A second certificate of the same job that replaces the first."""
    pdf = b"%PDF-1.7 invented revision"
    return Certificate.objects.create(
        job=certificate.job,
        number=f"{certificate.number}-1",
        revision=1,
        replaces=certificate,
        context=certificate.context,
        pdf=pdf,
        data_json=bytes(certificate.data_json),
        data_csv=bytes(certificate.data_csv),
        sha256=hashlib.sha256(pdf).hexdigest(),
        check_code="0123456789ab",
        issued_by=manager,
        issued_at=timezone.now(),
    )
