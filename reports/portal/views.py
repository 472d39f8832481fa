"""A client's own jobs and the issued files; the laboratory reads the same certificate page."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import permission_required
from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import Exists, F, OuterRef, Prefetch, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from particles.models import Job, Sample, SampleMove, SampleState
from particles.records.pages import page_of
from reports.certificates.doubt import doubt_of, stood_on
from reports.certificates.models import Certificate, Download
from reports.certificates.parts import not_on_each, statement_of, told_by
from reports.certificates.rows import certified_sections
from reports.content.build import day_in_words
from reports.portal.plain_words import ASKED_OF_THE_CLIENT, asked_of_the_client
from reports.portal.rows import certificate_of_each, job_standing, sample_row, told_of_withdrawal

FILES = {
    Download.Kind.PDF: ("pdf", "application/pdf"),
    Download.Kind.JSON: ("data_json", "application/json"),
    Download.Kind.CSV: ("data_csv", "text/csv; charset=utf-8"),
}
NEWEST_DOWNLOADS = 10
WITHDRAWN_MARK = "withdrawn"
"""Stands on the figures of a withdrawn certificate, and ends the names of its files."""


def listed(user: Any) -> QuerySet[Certificate]:
    """Certificates as a list shows them: without files, with the numbers before and after."""
    return with_content(user).defer("pdf", "data_json", "data_csv", "context")


def with_content(user: Any) -> QuerySet[Certificate]:
    """The same with what they say, for the page of one job."""
    found = Certificate.objects.visible_to(user).with_standing().defer("pdf", "data_json", "data_csv")
    listed: QuerySet[Certificate] = found.select_related("job__client").annotate(older=F("replaces__number"))
    return listed


@require_GET
def certificate(request: HttpRequest, number: str) -> HttpResponse:
    """One issued certificate, from its stored content only."""
    visible = Certificate.objects.visible_to(request.user).defer("pdf", "data_json", "data_csv")
    related: Any = visible.with_standing().select_related("job")
    found = get_object_or_404(related, number=number)
    context: dict[str, Any] = {
        "certificate": found,
        "content": found.context,
        "sections": certified_sections(found.number, found.context),
    }
    context["part"], context["part_statement"] = told_by(found), statement_of(found)
    context["doubt"] = doubt_of(found) if found.doubted_since else None
    context["stood"] = stood_on([found]).get(found.number, [])
    if found.withdrawn_at:
        context |= {"withdrawn_on": day_in_words(found.withdrawn_at), "mark": WITHDRAWN_MARK}
    if request.user.has_perm("reports.see_all"):
        context["downloads"] = found.downloads.select_related("by")[:NEWEST_DOWNLOADS]
        context["fetched"] = found.downloads.count()
    return render(request, "reports/portal/certificate.html", context)


@require_GET
@never_cache
def download(request: HttpRequest, number: str, kind: str) -> HttpResponse:
    """One file of a certificate, as issued."""
    return file_answer(request.user, number, kind)


def file_answer(user: Any, number: str, kind: str) -> HttpResponse:
    """The stored bytes of a file, after recording who fetched them; of a withdrawn certificate the name says so."""
    if kind not in FILES:
        raise Http404(f"A certificate has no file of kind {kind}.")
    field, content_type = FILES[Download.Kind(kind)]
    found = get_object_or_404(Certificate.objects.visible_to(user).only("number", field), number=number)
    name = f"{found.number}-{WITHDRAWN_MARK}" if hasattr(found, "withdrawal") else found.number
    Download.objects.create(certificate=found, kind=kind, by=user, at=timezone.now())
    answer = HttpResponse(bytes(getattr(found, field)), content_type=content_type)
    answer["Content-Disposition"] = content_disposition_header(True, f"{name}.{kind}")
    return answer


@require_GET
@permission_required("particles.see_own_jobs", raise_exception=True)
def my_jobs(request: HttpRequest) -> HttpResponse:
    jobs = Job.objects.visible_to(request.user).select_related("client")
    issued = Prefetch("certificates", listed(request.user), to_attr="issued")
    asked = Sample.objects.filter(job=OuterRef("pk"), **ASKED_OF_THE_CLIENT)
    jobs = jobs.annotate(states=ArrayAgg("samples__state"), asked=Exists(asked)).prefetch_related(issued)
    page = page_of(request, jobs.order_by("-received_at", "-pk"))
    lines = [(job, job_standing(job.states, job.issued, asked=job.asked)) for job in page]
    return render(request, "reports/portal/my_jobs.html", {"page": page, "lines": lines})


@require_GET
@permission_required("particles.see_own_jobs", raise_exception=True)
def my_job(request: HttpRequest, number: str) -> HttpResponse:
    jobs = Job.objects.visible_to(request.user).select_related("client", "method")
    job = get_object_or_404(jobs, number=number)
    refusals = Prefetch("moves", SampleMove.objects.filter(to_state=SampleState.REFUSED), to_attr="refusals")
    samples: list[Any] = list(job.samples.order_by("line").prefetch_related(refusals))
    certificates: list[Any] = list(with_content(request.user).filter(job=job))
    states = [sample.state for sample in samples]
    asked = any(asked_of_the_client(sample) for sample in samples)
    doubts = [(each, doubt_of(each)) for each in certificates if each.doubted_since]
    on = certificate_of_each(certificates)
    context = {
        "job": job,
        "status": job_standing(states, certificates, asked=asked),
        "withdrawn": told_of_withdrawal(certificates, states),
        "samples": [sample_row(sample, [doubt for _, doubt in doubts], on) for sample in samples],
        "certificates": certificates,
        "not_on_each": not_on_each(job).items(),
        "doubts": doubts,
        "stood": stood_on(certificates).items(),
        "facts": [
            ("Received", f"{timezone.localtime(job.received_at):%-d %b %Y, %H:%M}"),
            ("Wanted by", f"{job.wanted_by:%-d %b %Y}" if job.wanted_by else "no day was named"),
            ("Your reference", job.client_reference or "none given"),
            ("Method", job.method.title),
        ],
    }
    return render(request, "reports/portal/my_job.html", context)
