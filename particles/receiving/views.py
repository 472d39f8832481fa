"""The receiving clerk's desk: arrivals, a new job, a job's page, and acts on one bag."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db import transaction
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from particles.clients.models import Client
from particles.methods.statements import statements
from particles.receiving.forms import AcceptForm, HoldForm, JobForm, RefuseForm
from particles.receiving.lines import ENOUGH_G, LINES_AT_FIRST, LineTable
from particles.receiving.models import Job, Sample, SampleState
from particles.records.pages import ShownAgain, act_on, page_of
from particles.records.person import signed_in
from particles.records.refusals import RuleRefusal


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
        "jobs": jobs,
        "rows": [(job, counts[job.pk]) for job in jobs],
        "held": page_of(request, held, key="held"),
        "bags_today": samples.filter(job__received_at__date=today).count(),
        "to_accept": samples.filter(state=SampleState.ARRIVED).count(),
        "today": today,
    }
    return render(request, "particles/receiving/arrivals.html", context)


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
    return render(request, "particles/receiving/job.html", context)


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
    return render(request, "particles/receiving/acknowledgement.html", context)


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
            sample.accept(by=signed_in(request), at=timezone.now())
    if samples:
        messages.success(request, f"Accepted and sent to preparation: {len(samples)} of this job.")
    else:
        messages.info(request, "No sample of this job was waiting to be accepted.")
    return redirect("particles:job", number)


@require_http_methods(["GET", "POST"])
@permission_required("particles.receive", raise_exception=True)
def job_new(request: HttpRequest) -> HttpResponse:
    at = timezone.localtime()
    known: dict[str, Any] = {"clients": Client.objects.visible_to(request.user), "today": at.date()}
    if request.method == "GET":
        return _job_form(request, JobForm(**known), LineTable())
    count = LineTable.count_in(request.POST)
    if "more_lines" in request.POST:
        head = JobForm(initial=request.POST.dict(), **known)
        return _job_form(request, head, LineTable(request.POST, count=count + LINES_AT_FIRST, keep=True))

    head, table = JobForm(request.POST, **known), LineTable(request.POST, count=count)
    valid = head.is_valid()
    origin = {part: str(head.cleaned_data.get(f"origin_{part}", "")) for part in ("country", "region")}
    valid = table.is_valid(**origin, today=at.date()) and valid
    if not table.used:
        head.add_error(None, "No sample line is filled. Type at least one label and its origin.")
        valid = False
    if not valid:
        return _job_form(request, head, table, status=422)

    lines = [line.fields_of_sample for line in table.used]
    try:
        job, new = Job.log_once(
            head.cleaned_data["submission"], lines=lines, by=signed_in(request), at=at, **head.asked
        )
    except RuleRefusal as refusal:
        head.add_error(None, str(refusal))
        return _job_form(request, head, table, status=409)
    _tell_logged(request, job.number, new, table, origin)
    return redirect("particles:job", job.number)


def _tell_logged(
    request: HttpRequest, number: str, new: bool, table: LineTable, origin: dict[str, Any]
) -> None:
    if not new:
        messages.info(
            request, f"This form had been sent before: it is job {number}. Nothing was logged twice."
        )
        return
    messages.success(request, f"Job {number} is logged. Samples: {len(table.used)}.")
    scarce = [str(line.number) for line in table.used if line.is_scarce]
    if scarce:
        messages.warning(
            request,
            f"Less than {ENOUGH_G} g came for typed lines {', '.join(scarce)}. Ask for more, or hold it: "
            "portion, moisture and one repeat must come out of it.",
        )
    if table.origin_taken:
        place = ", ".join(filter(None, [origin["region"], origin["country"]]))
        where = ", ".join(map(str, table.origin_taken))
        messages.info(
            request, f"Origin “{place}” was taken from the head of the form for typed lines {where}."
        )


def _job_form(request: HttpRequest, head: JobForm, table: LineTable, *, status: int = 200) -> HttpResponse:
    context = {"form": head, "table": table, "clients_missing": not head.fields["client"].queryset.exists()}  # type: ignore[attr-defined]
    return render(request, "particles/receiving/new_job.html", context, status=status)


View = Callable[..., HttpResponse]


def _forms_for(sample: Sample) -> dict[str, forms.Form]:
    return {
        "accept": AcceptForm(held=sample.state == SampleState.ON_HOLD),
        "hold": HoldForm(),
        "refuse": RefuseForm(),
    }


def _read(act: str, sample: Sample, data: Any) -> forms.Form:
    if act == "accept":
        return AcceptForm(data, held=sample.state == SampleState.ON_HOLD)
    return HoldForm(data) if act == "hold" else RefuseForm(data)


def _act(act: str, done: str) -> View:
    """A page with the sample and what may be decided; sending its form does `act`."""

    @require_http_methods(["GET", "POST"])
    @permission_required("particles.receive", raise_exception=True)
    def view(request: HttpRequest, lab_number: str) -> HttpResponse:
        samples = Sample.objects.visible_to(request.user).select_related("job__client")
        sample = get_object_or_404(samples, lab_number=lab_number)
        if request.method == "GET":
            return _page(request, sample, _forms_for(sample))
        form = _read(act, sample, request.POST)
        outcome = act_on(
            form, lambda typed: getattr(sample, act)(by=signed_in(request), at=timezone.now(), **typed)
        )
        if isinstance(outcome, ShownAgain):
            return _page(request, sample, _forms_for(sample) | {act: form}, status=outcome.status)
        messages.success(request, f"Sample {sample.lab_number} {done}.")
        return redirect("particles:job", sample.job.number)

    return view


sample_accept = _act("accept", "is accepted and goes to preparation")


sample_hold = _act("hold", "is on hold")


sample_refuse = _act("refuse", "is refused")


def _page(
    request: HttpRequest, sample: Sample, by_act: dict[str, forms.Form], *, status: int = 200
) -> HttpResponse:
    rule = sample.regulated_by()
    may_become = Sample.MOVES.get(sample.state, ())
    context = {
        "sample": sample,
        "rule": rule,
        "facts": [
            ("Client", sample.job.client),
            ("Label on the bag", sample.client_label),
            ("Depth", sample.depth_text),
            ("Origin", ", ".join(filter(None, [sample.origin_region, sample.origin_country]))),
            ("Condition", sample.condition),
            ("Mass received", f"{sample.received_mass_g} g" if sample.received_mass_g else None),
        ],
        "forms": by_act,
        "may_accept": SampleState.ACCEPTED in may_become and rule is None,
        "may_hold": SampleState.ON_HOLD in may_become,
        "may_refuse": SampleState.REFUSED in may_become,
        "moves": sample.moves.select_related("by"),
    }
    return render(request, "particles/receiving/bag.html", context, status=status)
