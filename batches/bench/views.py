"""The bench on a tablet, and the doorway its entries come in by."""

from __future__ import annotations

from pathlib import Path

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
from batches.bench.state import acts, state_of, unit_of
from batches.room.lookups import batch_or_404
from particles.distribution.advice.expected_reading import told_to_tablet

may_read = permission_required("batches.read", raise_exception=True)


@never_cache  # an old response would bring an old time
@gzip_page  # names and numbers only: nothing secret stands beside what a stranger could choose
@may_read
@require_GET
@ensure_csrf_cookie
def bench(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    context = {
        "batch": batch,
        "unit": unit_of(batch),
        "state": state_of(batch),
        "expected": told_to_tablet(batch.method.edition.schedule_s),
        "acts": acts(),
        "unusable": unusable_today(
            batch, batch.runs.in_plan().select_related("cylinder").order_by("position"), timezone.localdate()
        ),
        "person": {"pk": request.user.pk, "name": str(request.user)},
    }
    return _of_person(request, render(request, "batches/bench/bench.html", context))


@never_cache
@gzip_page
@may_read
@require_GET
def bench_state(request: HttpRequest, number: str) -> HttpResponse:
    return _of_person(request, JsonResponse(state_of(batch_or_404(number))))


def _of_person(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Name in the response the person it was made for; a tablet keeps it for nobody else."""
    response["Siltbook-Person"] = str(request.user.pk)
    return response


@gzip_page
@login_not_required  # it names nobody, and a redirect would keep a tablet from renewing it
@require_GET
def bench_worker(request: HttpRequest) -> HttpResponse:
    """
    The script that opens the bench without a network; it may stand before the pages of batches.

    Its address stays the same through all editions, so that a tablet finds the next one; the page that
    registers it names the address of static files in the query.
    """
    script = finders.find("batches/bench/worker.js")
    assert script is not None, "it is one of this app's own files"
    response = HttpResponse(Path(script).read_bytes(), content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = reverse("batches:list")
    response["Cache-Control"] = "no-cache"
    return response
