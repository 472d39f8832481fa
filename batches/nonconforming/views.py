"""The page on which an approved batch is re-opened as nonconforming work."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_http_methods

from batches.nonconforming.forms import ReopenForm
from batches.nonconforming.rules import reopen, touched_by
from batches.planning.freshness import page_version
from batches.room.lookups import batch_or_404
from particles.records.pages import ShownAgain, act_on
from particles.records.person import signed_in


@permission_required("batches.review", raise_exception=True)
@require_http_methods(["GET", "POST"])
def reopen_batch(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    form = ReopenForm(request.POST if request.method == "POST" else None)
    outcome = act_on(
        form,
        lambda typed: reopen(
            batch,
            found=typed["found"],
            found_by=typed["found_by"],
            seen=typed["seen"] or None,
            by=signed_in(request),
            at=timezone.now(),
        ),
    )
    if isinstance(outcome, ShownAgain):
        batch = batch_or_404(number)
        context = {"batch": batch, "form": form, "touched": touched_by(batch), "version": page_version(batch)}
        return render(request, "batches/nonconforming/reopen.html", context, status=outcome.status)
    messages.success(
        request,
        f"{capfirst(str(batch))} is re-opened. Put right what is wrong; somebody other than you signs it anew.",
    )
    return redirect("batches:review", number=number)
