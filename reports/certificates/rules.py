"""Issues, amends and withdraws certificates: signed by an authorised person, frozen with their bytes."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from batches.review.password import require_secret
from batches.review.signed import results_of
from particles.models import Job, NumberSeries, Sample, SampleState
from particles.records.act import done
from particles.records.person import Person
from particles.records.refusals import AlreadyThere, NotPossible, NotThisPerson
from particles.records.sentence import HOW_TO_SAY, names_a_thing
from reports.certificates.models import Certificate, CertificateResult, Withdrawal
from reports.certificates.parts import Part, require_next_part, samples_of_part, statement_of, told_by
from reports.charts.from_records import frame_of
from reports.content.build import build_context, day_in_words, reportable_samples
from reports.content.changes import changes_between
from reports.content.context import CertificateContext
from reports.files.datafile import to_csv, to_json
from reports.paper.pdf import render_pdf
from reports.paper.seal import SigningKey, sign_pdf


def draft_context(job: Job, *, by: Person, at: datetime, in_part: bool = False) -> CertificateContext:
    """The content that a certificate would have now. Carries no number, so it cannot be mistaken for one."""
    part = require_next_part(job) if in_part else None
    return build_context(job, by=by, at=at, **_no_identity(), **_of_part(part, at))


def _of_part(part: Part | None, at: datetime) -> dict[str, Any]:
    """What a part holds and says, as `build_context` takes it; nothing for the whole of a job."""
    if part is None:
        return {}
    return {"of_part": part.samples, "part": part.told(at), "part_statement": part.statement}


def draft_amendment(certificate: Certificate, *, why: str, by: Person, at: datetime) -> CertificateContext:
    """The content that a certificate replacing this one would have now; refuses while nothing would change."""
    _refuse_unless_newest(certificate)
    return _amendment(certificate, why=why, by=by, at=at, identity=_no_identity())


def issue_certificate(
    job: Job, *, by: Person, at: datetime, secret: str, in_part: bool = False
) -> Certificate:
    """
    Issue the certificate of a job whose samples are all approved, or of the part of it that is.

    Refused to people without the authority to issue, without their own password, and when
    the job has its certificate already. A part says which one it is and which samples are still to come.
    """
    _refuse_others(by, "issue")
    require_secret(by, secret)
    with transaction.atomic():
        locked = _locked(job)
        return _issued(locked, require_next_part(locked) if in_part else None, by=by, at=at)


def _issued(job: Job, part: Part | None, *, by: Person, at: datetime) -> Certificate:
    existing = job.certificates.order_by("-revision").first()
    if existing is not None and part is None:
        raise AlreadyThere(
            f"{job} has certificate {existing.number} already; an issued certificate never changes."
        )
    samples = reportable_samples(job) if part is None else list(part.samples)
    day = timezone.localdate(at)
    number = f"C{day:%y}-{NumberSeries.take('certificate', day.year):04d}"
    context = build_context(job, by=by, at=at, **_identity(number), **_of_part(part, at))
    number_of_part = None if part is None else part.number
    return _kept(job, context, samples, replaces=None, part=number_of_part, by=by, at=at)


def amend_certificate(
    certificate: Certificate, *, why: str, by: Person, at: datetime, secret: str
) -> Certificate:
    """
    Issue the certificate that replaces this one and says what changed and why; this one stays as it is.

    Refused like `issue_certificate`, for one replaced already, without a reason, and when it would say the same.
    """
    _refuse_others(by, "amend")
    if not why.strip():
        raise NotPossible("Say why it is amended; the new certificate prints it.")
    require_secret(by, secret)
    with transaction.atomic():
        return _amended(certificate, _locked(certificate.job), why=why, by=by, at=at)


def _amended(certificate: Certificate, job: Job, *, why: str, by: Person, at: datetime) -> Certificate:
    _refuse_unless_newest(certificate)
    samples = (
        reportable_samples(job, amending=True) if certificate.part is None else samples_of_part(certificate)
    )
    first = job.certificates.get(revision=0, part=certificate.part)
    identity = _identity(f"{first.number}-{certificate.revision + 1}")
    context = _amendment(certificate, why=why, by=by, at=at, identity=identity)
    return _kept(job, context, samples, replaces=certificate, part=certificate.part, by=by, at=at)


def withdraw_certificate(
    certificate: Certificate, *, why: str, by: Person, at: datetime, secret: str
) -> Withdrawal:
    """Declare that a certificate must not be relied on, before or without one that replaces it."""
    _refuse_others(by, "withdraw")
    if not names_a_thing(why):
        raise NotPossible(f"Say why it is withdrawn; the client reads it. {HOW_TO_SAY}")
    require_secret(by, secret)
    with transaction.atomic():
        _locked(certificate.job)
        _refuse_unless_newest(certificate)
        if hasattr(certificate, "withdrawal"):
            raise AlreadyThere(f"{certificate} was withdrawn on {day_in_words(certificate.withdrawal.at)}.")
        return Withdrawal.objects.create(certificate=certificate, reason=why.strip(), **done(by, at))


def _refuse_others(by: Person, act: str) -> None:
    if not by.has_perm("reports.issue"):
        raise NotThisPerson(f"{by} is not authorised to {act} certificates.")


def _locked(job: Job) -> Job:
    return Job.objects.select_for_update(no_key=True).get(pk=job.pk)


def _refuse_unless_newest(certificate: Certificate) -> None:
    newer = Certificate.objects.filter(replaces=certificate).values_list("number", flat=True).first()
    if newer is not None:
        raise AlreadyThere(f"{certificate} was replaced by {newer} already. Go on from that one.")


def _identity(number: str) -> dict[str, Any]:
    """Number of a document, and the address and code by which a holder of the paper asks for it."""
    code = secrets.token_hex(6)
    return {"number": number, "check_url": check_address(number, code), "check_code": code}


def _no_identity() -> dict[str, Any]:
    """Identity of a draft, which cannot be mistaken for a certificate's."""
    return {"number": "DRAFT", "check_url": settings.PUBLIC_URL, "check_code": ""}


def _amendment(
    certificate: Certificate, *, why: str, by: Person, at: datetime, identity: dict[str, Any]
) -> CertificateContext:
    """Content of the certificate that replaces this one, with what changed and why."""
    context = build_context(
        certificate.job,
        by=by,
        at=at,
        revision=certificate.revision + 1,
        replaces=certificate.number,
        of_part=None if certificate.part is None else samples_of_part(certificate),
        part=told_by(certificate),
        part_statement=statement_of(certificate),
        **identity,
    )
    changes = changes_between(certificate.context, asdict(context))
    if not changes:
        raise NotPossible(
            f"A new certificate would say the same as {certificate.number}. Correct what is wrong first, "
            "or have a sample analysed again."
        )
    listed = "; ".join(changes)
    return replace(context, what_changed=f"{listed[0].upper()}{listed[1:]}. Why: {why.strip()}")


def _kept(
    job: Job,
    context: CertificateContext,
    samples: Sequence[Sample],
    *,
    replaces: Certificate | None,
    part: int | None,
    by: Person,
    at: datetime,
) -> Certificate:
    """Keep the certificate with the bytes that leave the laboratory; samples not reported yet are reported now."""
    page = render_pdf(context, frame_of(job.method.edition))
    signed = sign_pdf(page, signing_key(), laboratory=context.laboratory_name)
    certificate = Certificate.objects.create(
        job=job,
        number=context.number,
        revision=context.revision,
        replaces=replaces,
        part=part,
        context=asdict(context),
        pdf=signed.content,
        data_json=to_json(context),
        data_csv=to_csv(context),
        sha256=hashlib.sha256(signed.content).hexdigest(),
        key_sha256=signed.key_sha256,
        check_code=context.check_code,
        issued_by_id=by.pk,
        issued_at=at,
    )
    CertificateResult.objects.bulk_create(
        CertificateResult(certificate=certificate, result=result) for result in results_of(samples)
    )
    for sample in samples:
        if sample.state == SampleState.APPROVED:
            sample.transition(SampleState.REPORTED, by=by, at=at, reason=str(certificate))
    return certificate


def signing_key() -> SigningKey:
    """The laboratory's key, or the place of a self-made one."""
    given = settings.CERTIFICATE_KEY
    path = Path(given) if given else settings.OWN_CERTIFICATE_KEY
    return SigningKey(path, settings.CERTIFICATE_KEY_PASSPHRASE, self_made=not given)


def check_address(number: str, code: str) -> str:
    """The address at which anybody holding the paper can ask whether it is genuine and current."""
    return f"{settings.PUBLIC_URL}{reverse('reports:check', args=[number])}?{urlencode({'code': code})}"
