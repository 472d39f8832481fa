"""The form of a new job."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from particles.forms.job import JobForm
from particles.forms.lines import ENOUGH_G, LINES_AT_FIRST, LineTable
from particles.models import Client, Job
from particles.refusals import RuleRefusal


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
            head.cleaned_data["submission"], lines=lines, by=request.user, at=at, **head.asked
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
    return render(request, "particles/job_new.html", context, status=status)
