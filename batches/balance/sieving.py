"""The sand that was washed out of a portion, dried and sieved."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from batches.balance.forms import SieveForm
from batches.balance.ready import blank_still_open, why_not_sieved
from batches.balance.rows import sieving_rows
from batches.balance.rules import why_closed
from batches.balance.stacks import Stack, stacks_of
from batches.entries.door import Response
from batches.entries.pages import form_with_response, posted, send
from batches.room.lookups import portion_or_404
from particles.models import Portion

may_plan = permission_required("batches.plan", raise_exception=True)


@may_plan
@require_GET
def sieving(request: HttpRequest) -> HttpResponse:
    """What can be sieved now, and what each of the others waits for."""
    rows = sieving_rows(request.user, timezone.now())
    context = {"rows": rows, "to_sieve": len(rows["again"]) + len(rows["now"])}
    return render(request, "batches/balance/sieving.html", context)


@may_plan
@require_http_methods(["GET", "POST"])
def sieve_portion(request: HttpRequest, code: str) -> HttpResponse:
    """Sieve what was washed out of the portion with this code."""
    portion = portion_or_404(request, code)
    if request.method == "GET":
        return _page(request, portion)
    content = posted(request) | {"portion": str(portion.pk)}
    response = send(request, "sieve", request.POST.get("entry_id"), content)
    if response.stored:
        if (
            stacks_of(portion)[-1].stop is None
        ):  # what is lost beyond the limit is said on the page, and is not done
            messages.success(request, response.sentence)
        return redirect(request.get_full_path())
    return _page(request, portion, content, response)


def _page(
    request: HttpRequest,
    portion: Portion,
    typed: dict[str, str] | None = None,
    response: Response | None = None,
) -> HttpResponse:
    form = form_with_response(SieveForm, typed, response)
    stacks, run = stacks_of(portion), getattr(portion, "run", None)
    form.fields["reason"].required = bool(stacks)  # said on the page; the rule asks for it
    closed = "" if run is None else why_closed(portion, run.batch, nothing="nothing is sieved")
    context: dict[str, Any] = {
        "portion": portion,
        "form": form,
        "entry_id": uuid4(),
        "stacks": stacks,
        "run": run,
        "newest": stacks[-1] if stacks else None,
        "next_step": _next_step(stacks[-1]) if stacks and stacks[-1].stop else "",
        "blank_open": "" if run is None or closed else blank_still_open(run, timezone.now()),
        "why_not": closed or why_not_sieved(portion, timezone.now()),
        "sieve_fields": [
            form["washed_sand_g"],
            *(form[form.sieve_name(um)] for um in form.OPENINGS_UM),
            form["pan_g"],
        ],
    }
    return render(request, "batches/balance/sieve.html", context, status=response.status if response else 200)


def _next_step(stack: Stack) -> str:
    """The limit that a sieving lies beyond, and what to do next."""
    assert stack.stop is not None, "nothing stops it"
    return f"“{stack.method.title}” allows {stack.limit_pct:g} %. {stack.stop.next_step} Say why in the form below."
