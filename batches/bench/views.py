"""The bench on a tablet, and the doorway its entries come in by."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_not_required, permission_required
from django.contrib.staticfiles import finders
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from batches.bench.state import acts, state_of, unit_of
from batches.entries.door import receive
from batches.entries.kinds import BENCH_FORMS
from batches.entries.pages import entry_name, whats_unkeepable
from batches.room.lookups import batch_or_404

may_read = permission_required("batches.read", raise_exception=True)


@never_cache  # an old answer would bring an old time
@gzip_page  # names and numbers only: nothing secret stands beside what a stranger could choose
@may_read
@require_GET
@ensure_csrf_cookie
def bench(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    words = {
        "batch": batch,
        "unit": unit_of(batch),
        "state": state_of(batch),
        "acts": acts(),
        "person": {"pk": request.user.pk, "name": str(request.user)},
    }
    return _of_person(request, render(request, "batches/bench/bench.html", words))


@never_cache
@gzip_page
@may_read
@require_GET
def bench_state(request: HttpRequest, number: str) -> HttpResponse:
    return _of_person(request, JsonResponse(state_of(batch_or_404(number))))


def _of_person(request: HttpRequest, answer: HttpResponse) -> HttpResponse:
    """Whose answer this is: a tablet keeps it for nobody else."""
    answer["Siltbook-Person"] = str(request.user.pk)
    return answer


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
    answer = HttpResponse(Path(script).read_bytes(), content_type="text/javascript; charset=utf-8")
    answer["Service-Worker-Allowed"] = reverse("batches:list")
    answer["Cache-Control"] = "no-cache"
    return answer


class EntriesView(APIView):
    """
    One entry as a tablet sends it: {"entry_id", "kind", "content": {name: text}, "by": person}.

    `by` is who took it. On a shared tablet somebody else may be logged in by the time it is
    sent; it then stays on the tablet, because nobody's work is booked under another name.
    """

    def post(self, request: Request) -> Response:
        if not request.user.has_perm("batches.read"):
            raise PermissionDenied
        sent = request.data if isinstance(request.data, dict) else {}
        wrong = _whats_malformed(sent)
        if wrong:
            return Response({"stored": False, "sentence": wrong}, status=400)
        if "by" in sent and sent["by"] != request.user.pk:
            return Response(_another_person(request), status=403)
        answer = receive(
            entry_name(sent["entry_id"]),
            sent["kind"],
            sent["content"],
            by=request.user,
            at=timezone.now(),
            device=request.headers.get("User-Agent", ""),
        )
        words = {
            "stored": answer.stored,
            "sentence": answer.sentence,
            "field_errors": answer.field_errors,
            "repeated": answer.repeated,
        }
        return Response(words, status=answer.status)


def _another_person(request: Request) -> dict[str, Any]:
    return {
        "stored": False,
        "another_person": True,
        "sentence": f"This entry was taken by somebody else; {request.user} is logged in. It stays on the tablet "
        "until the person who took it logs in.",
    }


def _whats_malformed(sent: dict[str, Any]) -> str:
    try:
        entry_name(sent.get("entry_id"))
    except ValueError:
        return "The entry carries no name. Reload the bench and take it again."
    if not isinstance(sent.get("kind"), str) or sent["kind"] not in BENCH_FORMS:
        return f"This is not a kind of entry. Known: {', '.join(BENCH_FORMS)}."
    return whats_unkeepable(sent.get("content"))
