"""The bench on a tablet, and the doorway its entries come in by."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_not_required, permission_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET

from batches.bench.instruments import unusable_today
from batches.bench.state import acts, at_the_bench, now, state_of
from batches.planning.models import Batch, Run
from batches.room.lookups import batch_or_404
from batches.timetables.rows import planned_for_tablets
from particles.distribution.advice.expected_reading import told_to_tablet

may_read = permission_required("batches.read", raise_exception=True)


@never_cache  # an old response would bring an old time
@gzip_page  # names and numbers only: nothing secret stands beside what a stranger could choose
@may_read
@require_GET
@ensure_csrf_cookie
def room(request: HttpRequest) -> HttpResponse:
    """The bench over all batches in the room."""
    return _page(request, at_the_bench(), reverse("batches:room_state"), None)


@never_cache
@gzip_page
@may_read
@require_GET
def room_state(request: HttpRequest) -> HttpResponse:
    return _state(request, at_the_bench())


@never_cache
@gzip_page
@may_read
@require_GET
@ensure_csrf_cookie
def bench(request: HttpRequest, number: str) -> HttpResponse:
    """The bench of one batch alone."""
    batch = batch_or_404(number)
    return _page(request, [batch], reverse("batches:bench_state", args=[number]), batch)


@never_cache
@gzip_page
@may_read
@require_GET
def bench_state(request: HttpRequest, number: str) -> HttpResponse:
    return _state(request, [batch_or_404(number)])


def _page(
    request: HttpRequest, batches: Sequence[Batch], state_url: str, alone: Batch | None
) -> HttpResponse:
    schedules = {tuple(batch.method.edition.schedule_s) for batch in batches}
    context = {
        "batch": alone,
        "state_url": state_url,
        "state": _told(batches),
        "expected": {",".join(f"{s:.0f}" for s in slots): told_to_tablet(slots) for slots in schedules},
        "acts": acts(),
        "unusable": _unusable(batches),
        "person": {"pk": request.user.pk, "name": str(request.user)},
    }
    return _of_person(request, render(request, "batches/bench/bench.html", context))


def _unusable(batches: Sequence[Batch]) -> str:
    """What is overdue or withdrawn today of all that these batches are read with, as sentences, each once; or ''."""
    runs = Run.objects.filter(batch__in=batches).in_plan().select_related("cylinder").order_by("position")
    by_batch: dict[int, list[Run]] = {}
    for run in runs:
        by_batch.setdefault(run.batch_id, []).append(run)
    today = timezone.localdate()
    found = [unusable_today(batch, by_batch.get(batch.pk, ()), today) for batch in batches]
    return " ".join(dict.fromkeys(filter(None, found)))


def _state(request: HttpRequest, batches: Sequence[Batch]) -> HttpResponse:
    return _of_person(request, JsonResponse(_told(batches)))


def _told(batches: Sequence[Batch]) -> dict[str, Any]:
    return {**state_of(batches), "plan": planned_for_tablets(batches), "now": now()}


def _of_person(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Name in the response the person it was made for; a tablet keeps it for nobody else."""
    response["Siltbook-Person"] = str(request.user.pk)
    return response


@gzip_page
@login_not_required  # it names nobody, and a redirect would keep a tablet from renewing it
@require_GET
def bench_worker(request: HttpRequest) -> HttpResponse:
    """
    The script that opens the bench without a network; it may stand before the pages of the bench.

    Its address stays the same through all editions, so that a tablet finds the next one; the page that
    registers it names the address of static files in the query.
    """
    script = finders.find("batches/bench/worker.js")
    assert script is not None, "it is one of this app's own files"
    response = HttpResponse(Path(script).read_bytes(), content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = "/"
    response["Cache-Control"] = "no-cache"
    return response
