"""Certificates as the laboratory sees them: which jobs are ready, issuing, what was issued."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from particles.models import Job, Sample, SampleState
from particles.records.pages import page_of
from particles.records.person import signed_in
from particles.records.refusals import AlreadyThere, RuleRefusal
from reports.certificates.forms import IssueForm, digest_seen
from reports.certificates.models import Certificate
from reports.certificates.parts import next_part
from reports.certificates.rows import draft_sections
from reports.certificates.rules import draft_context, issue_certificate
from reports.content.context import CertificateContext
from reports.paper.pdf import CertificatePrintError
from reports.paper.seal import SigningError
from reports.portal.plain_words import SAMPLE_STATES, waits_for
from reports.portal.views import listed

LEFT_OUT = [SampleState.REFUSED, SampleState.CANCELLED]


@require_GET
@permission_required("reports.see_all", raise_exception=True)
def certificates(request: HttpRequest) -> HttpResponse:
    sought = request.GET.get("sought", "").strip()
    issued = listed(request.user)
    if sought:
        named = Q(number__icontains=sought) | Q(job__number__icontains=sought)
        issued = issued.filter(named | Q(job__client__name__icontains=sought))
    context = {
        "ready": _ready_jobs(Job.objects.visible_to(request.user)),
        "amendable": _amendable(request.user),
        "in_part": _ready_in_part(Job.objects.visible_to(request.user)),
        "sought": sought,
        "page": page_of(request, issued.select_related("issued_by")),
    }
    return render(request, "reports/certificates/certificates.html", context)


@require_http_methods(["GET", "POST"])
@permission_required("reports.issue", raise_exception=True)
def issue(request: HttpRequest, number: str, *, in_part: bool = False) -> HttpResponse:
    """Show everything the certificate will say, and issue it with the signature under it; of a part, of that alone."""
    job = get_object_or_404(
        Job.objects.visible_to(request.user).select_related("client", "method"), number=number
    )
    existing = job.certificates.order_by("-revision").values_list("number", flat=True).first()
    if existing is not None and not in_part:
        return _to_existing(request, job, existing)
    try:
        draft = draft_context(job, by=signed_in(request), at=timezone.now(), in_part=in_part)
    except RuleRefusal as refusal:
        return _not_ready(request, job, str(refusal))
    form = IssueForm(request.POST or None, initial={"seen": digest_seen(draft)})
    if request.method == "GET":
        return _preview(request, job, draft, form)
    if not form.is_valid():
        return _preview(request, job, draft, form, status=422)
    if form.cleaned_data["seen"] != digest_seen(draft):
        form = IssueForm(initial={"seen": digest_seen(draft)}, data=None)
        messages.warning(
            request, "What the certificate says has changed since you opened this page. Read it again."
        )
        return _preview(request, job, draft, form, status=409)
    try:
        made = issue_certificate(
            job,
            by=signed_in(request),
            at=timezone.now(),
            secret=form.cleaned_data["secret"],
            in_part=in_part,
        )
    except AlreadyThere:
        return _to_existing(request, job, job.certificates.latest("revision").number)
    except (RuleRefusal, CertificatePrintError, SigningError) as refusal:
        form.add_error(None, str(refusal))
        return _preview(request, job, draft, form, status=409)
    messages.success(request, f"Certificate {made.number} is issued. The client can fetch it now.")
    return redirect("reports:certificate", number=made.number)


def _ready_jobs(jobs: QuerySet[Job]) -> QuerySet[Job]:
    """Jobs without a certificate whose samples are all approved or left out; longest approved first."""
    approved = Q(samples__state=SampleState.APPROVED)
    counted = jobs.filter(certificates__isnull=True).annotate(
        approved=Count("samples", filter=approved, distinct=True),
        others=Count("samples", filter=~approved & ~Q(samples__state__in=LEFT_OUT), distinct=True),
        approved_at=Max("samples__moves__at", filter=Q(samples__moves__to_state=SampleState.APPROVED)),
    )
    return counted.filter(approved__gt=0, others=0).select_related("client").order_by("approved_at")


def _analysed_again(jobs: QuerySet[Job]) -> QuerySet[Job]:
    """Jobs with a certificate and newly approved samples, none of them still at work."""
    ready = [SampleState.APPROVED, SampleState.REPORTED, *LEFT_OUT]
    at_work = Sample.objects.filter(job=OuterRef("pk")).exclude(state__in=ready)
    return jobs.filter(certificates__isnull=False, samples__state=SampleState.APPROVED).exclude(
        Exists(at_work)
    )


def _ready_in_part(jobs: QuerySet[Job]) -> QuerySet[Job]:
    """Jobs of which some approved samples stand on no certificate, while others are at work or went out before."""
    samples = Sample.objects.filter(job=OuterRef("pk"))
    waiting = samples.exclude(state__in=[SampleState.APPROVED, SampleState.REPORTED, *LEFT_OUT])
    new = samples.filter(state=SampleState.APPROVED).exclude(
        portions__run__results__certificates__isnull=False
    )
    issued = Certificate.objects.filter(job=OuterRef("pk"))
    return (
        jobs.filter(Exists(new), ~Exists(issued.filter(part__isnull=True)))
        .filter(Exists(waiting) | Exists(issued.filter(part__isnull=False)))
        .select_related("client")
        .order_by("pk")
    )


def _amendable(user: Any) -> QuerySet[Certificate]:
    """Newest revisions on which a sample was analysed again, or signed anew, and is approved."""
    again = Q(part__isnull=True, job__in=_analysed_again(Job.objects.visible_to(user)))
    on_it = Certificate.objects.filter(results__run__portion__sample__state=SampleState.APPROVED)
    of_part = Q(part__isnull=False, pk__in=on_it.values("pk"))
    found: QuerySet[Certificate] = listed(user).filter(replaced_by__isnull=True).filter(again | of_part)
    return found


def _preview(
    request: HttpRequest, job: Job, draft: CertificateContext, form: IssueForm, status: int = 200
) -> HttpResponse:
    content = asdict(draft)
    context = {"job": job, "content": content, "sections": draft_sections(job, content), "form": form}
    return render(request, "reports/certificates/issue.html", context, status=status)


def _not_ready(request: HttpRequest, job: Job, refusal: str) -> HttpResponse:
    """The page that says what each sample waits for, with nothing to sign."""
    samples = [
        {"of": s, "kind": SAMPLE_STATES[s.state][1], "waits_for": waits_for(s)}
        for s in job.samples.order_by("line")
    ]
    context = {"job": job, "samples": samples, "refusal": refusal, "part": next_part(job)}
    return render(
        request,
        "reports/certificates/not_ready.html",
        context,
        status=200 if request.method == "GET" else 409,
    )


def _to_existing(request: HttpRequest, job: Job, number: str) -> HttpResponse:
    messages.warning(
        request, f"Job {job.number} has certificate {number} already; an issued certificate never changes."
    )
    return redirect("reports:certificate", number=number)
