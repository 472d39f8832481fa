"""The receiving clerk's desk: arrivals and a job's page."""

from __future__ import annotations

from collections import defaultdict
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db import transaction
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from particles.method_statements import statements
from particles.models import Job, Sample, SampleState
from particles.views.pages import page_of


@require_GET
@permission_required("particles.receive", raise_exception=True)
def arrivals(request: HttpRequest) -> HttpResponse:
    asked = request.GET.get("q", "").strip()
    jobs = page_of(request, _jobs_matching(request.user, asked))
    counts: dict[int, list[tuple[str, int]]] = defaultdict(list)
    states = Sample.objects.filter(job__in=[job.pk for job in jobs]).values_list("job", "state")
    for job_pk, state, number in states.annotate(number=Count("pk")).order_by("job", "state"):
        counts[job_pk].append((state, number))
    samples = Sample.objects.visible_to(request.user)
    held = samples.filter(state=SampleState.ON_HOLD).select_related("job__client").order_by("pk")
    today = timezone.localdate()
    context = {
        "asked": asked,
        "keep": f"{urlencode({'q': asked})}&" if asked else "",
        "jobs": jobs,
        "rows": [(job, counts[job.pk]) for job in jobs],
        "held": page_of(request, held, key="held"),
        "bags_today": samples.filter(job__received_at__date=today).count(),
        "to_accept": samples.filter(state=SampleState.ARRIVED).count(),
        "today": today,
    }
    return render(request, "particles/arrivals.html", context)


def _jobs_matching(user: Any, asked: str) -> Any:
    jobs = Job.objects.visible_to(user).select_related("client", "received_by")
    if not asked:
        return jobs
    with_sample = Sample.objects.filter(Q(lab_number__iexact=asked) | Q(client_label__iexact=asked)).values(
        "job"
    )
    return jobs.filter(
        Q(number__iexact=asked)
        | Q(client_reference__icontains=asked)
        | Q(client__name__icontains=asked)
        | Q(pk__in=with_sample)
    )


def _job(request: HttpRequest, number: str) -> Job:
    jobs = Job.objects.visible_to(request.user).select_related("client", "method", "received_by")
    return get_object_or_404(jobs, number=number)


@require_GET
@permission_required("particles.see_all_jobs", raise_exception=True)
def job(request: HttpRequest, number: str) -> HttpResponse:
    found = _job(request, number)
    samples = list(found.samples.order_by("line").with_regulation())
    context = {
        "job": found,
        "samples": samples,
        "facts": _facts(found),
        "method_statements": statements(found.method.edition),
        "regulated": [sample for sample in samples if sample.regulated],
        "acceptable": [s for s in samples if s.state == SampleState.ARRIVED and not s.regulated],
    }
    return render(request, "particles/job.html", context)


def _facts(job: Job) -> list[tuple[str, object]]:
    return [
        ("Client", job.client),
        ("Client’s reference", job.client_reference),
        ("Received", f"{timezone.localtime(job.received_at):%-d %b %Y, %H:%M} by {job.received_by}"),
        ("Parcel", job.condition),
        ("Method edition", job.method),
        ("Sand by sieve", "yes" if job.sand_by_sieve else "no"),
        ("Pretreatment wish", job.pretreatment_wish),
        ("Wanted by", f"{job.wanted_by:%-d %b %Y}" if job.wanted_by else None),
    ]


@require_GET
@permission_required("particles.see_all_jobs", raise_exception=True)
def acknowledgement(request: HttpRequest, number: str) -> HttpResponse:
    found = _job(request, number)
    samples = list(found.samples.order_by("line"))
    context = {
        "job": found,
        "samples": samples,
        "facts": _facts(found),
        "method_statements": statements(found.method.edition),
        "open_questions": [sample for sample in samples if sample.state == SampleState.ON_HOLD],
    }
    return render(request, "particles/acknowledgement.html", context)


@require_POST
@permission_required("particles.receive", raise_exception=True)
def job_accept(request: HttpRequest, number: str) -> HttpResponse:
    """Accept every bag of the job that has arrived, is not on hold and not regulated: all of them or none."""
    found = _job(request, number)
    samples = [
        s
        for s in found.samples.filter(state=SampleState.ARRIVED).with_regulation().order_by("line")
        if not s.regulated
    ]
    with transaction.atomic():
        for sample in samples:
            sample.accept(by=request.user, at=timezone.now())
    if samples:
        messages.success(request, f"Accepted and sent to preparation: {len(samples)} of this job.")
    else:
        messages.info(request, "No sample of this job was waiting to be accepted.")
    return redirect("particles:job", number)
