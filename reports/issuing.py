"""Issues certificates: signed by an authorised person, frozen with the bytes that leave the house."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import asdict
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from batches.approval import require_secret
from particles.models import Job, NumberSeries, SampleState
from particles.refusals import AlreadyThere, NotThisPerson
from reports.building import build_context, reportable_samples, result_of
from reports.chart_data import frame_of
from reports.contexts import CertificateContext
from reports.datafile import to_csv, to_json
from reports.models import Certificate, CertificateResult
from reports.pdf import render_pdf


def draft_context(job: Job, *, by: Any, at: datetime) -> CertificateContext:
    """What a certificate would say now. Carries no number, so it cannot be mistaken for one."""
    return build_context(job, number="DRAFT", by=by, at=at, check_url=settings.PUBLIC_URL, check_code="")


@transaction.atomic
def issue_certificate(job: Job, *, by: Any, at: datetime, secret: str) -> Certificate:
    """
    Issue the certificate of a job whose samples are all approved.

    Refused to people without the authority to issue, without their own password, and when
    the job has its certificate already.
    """
    if not by.has_perm("reports.issue"):
        raise NotThisPerson(f"{by} is not authorised to issue certificates.")
    job = Job.objects.select_for_update(no_key=True).get(pk=job.pk)
    existing = job.certificates.order_by("-revision").first()
    if existing is not None:
        raise AlreadyThere(
            f"{job} has certificate {existing.number} already; an issued certificate never changes."
        )
    samples = reportable_samples(job)
    require_secret(by, secret)
    day = timezone.localdate(at)
    number = f"C{day:%y}-{NumberSeries.take('certificate', day.year):04d}"
    code = secrets.token_hex(6)
    context = build_context(
        job, number=number, by=by, at=at, check_url=check_address(number, code), check_code=code
    )
    pdf = render_pdf(context, frame_of(job.method.edition))
    certificate = Certificate.objects.create(
        job=job,
        number=number,
        context=asdict(context),
        pdf=pdf,
        data_json=to_json(context),
        data_csv=to_csv(context),
        sha256=hashlib.sha256(pdf).hexdigest(),
        check_code=code,
        issued_by=by,
        issued_at=at,
    )
    CertificateResult.objects.bulk_create(
        CertificateResult(certificate=certificate, result=result_of(sample)) for sample in samples
    )
    for sample in samples:
        sample.transition(SampleState.REPORTED, by=by, at=at, reason=str(certificate))
    return certificate


def check_address(number: str, code: str) -> str:
    """Where anybody holding the paper can ask whether it is genuine and current."""
    return f"{settings.PUBLIC_URL}{reverse('reports:check', args=[number])}?{urlencode({'code': code})}"
