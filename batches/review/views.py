"""Review by somebody else, up to the signature."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from batches.computing.models import Flag, Result
from batches.computing.rows import state_kind
from batches.planning.models import UNDER_REVIEW, Batch, Run
from batches.review import rules as review_rules
from batches.review.forms import DecisionForm, FlagNoteForm, GiveBackForm, PairNoteForm, SignatureForm
from batches.review.rows import WHY_REJECTED, WHY_RETURNED, review_context
from batches.room.lookups import batch_or_404
from particles.records.pages import ShownAgain, act_on, page_of
from particles.records.person import signed_in

may_review = permission_required("batches.review", raise_exception=True)


@may_review
@require_GET
def review_list(request: HttpRequest) -> HttpResponse:
    waiting = Batch.objects.filter(state__in=UNDER_REVIEW).select_related("method").order_by("planned_at")
    return render(request, "batches/review/list.html", {"page": page_of(request, waiting)})


@may_review
@require_GET
def review(request: HttpRequest, number: str) -> HttpResponse:
    return _page(request, batch_or_404(number))


def _page(request: HttpRequest, batch: Batch, status: int = 200, **forms: Any) -> HttpResponse:
    context = review_context(batch, request.user, forms) | {"kind": state_kind(batch.state)}
    return render(request, "batches/review/review.html", context, status=status)


def _act(
    request: HttpRequest, batch: Batch, place: str, form: Any, act: Callable[[dict[str, Any]], Any], done: str
) -> HttpResponse:
    """Do one thing of a review; a complaint comes back on its own form, with what was typed."""
    outcome = act_on(form, act)
    if isinstance(outcome, ShownAgain):
        if outcome.status in (403, 409):  # in sight at the top, also where the form is not drawn any more
            for sentence in form.non_field_errors():
                messages.error(request, str(sentence))
        return _page(request, batch_or_404(batch.number), outcome.status, **{place: form})
    messages.success(request, done)
    return redirect("batches:review", number=batch.number)


@may_review
@require_POST
def review_flag(request: HttpRequest, pk: int) -> HttpResponse:
    flag = get_object_or_404(Flag.objects.select_related("result__run__batch"), pk=pk)
    place = f"flag_{flag.pk}"
    return _act(
        request,
        batch_or_404(flag.result.run.batch.number),
        place,
        form := FlagNoteForm(request.POST, prefix=place),
        lambda typed: review_rules.review_flag(
            flag,
            note=typed["note"],
            printed=typed["printed"],
            seen=form.version,
            by=signed_in(request),
            at=timezone.now(),
        ),
        "The note is kept.",
    )


@may_review
@require_POST
def review_pair(request: HttpRequest, pk: int) -> HttpResponse:
    runs = Run.objects.select_related("batch", "portion__sample")
    duplicate = get_object_or_404(runs, pk=pk, portion__duplicate_of__isnull=False)
    place = f"pair_{duplicate.pk}"
    return _act(
        request,
        batch_or_404(duplicate.batch.number),
        place,
        form := PairNoteForm(request.POST, prefix=place),
        lambda typed: review_rules.review_pair(
            duplicate,
            note=typed["note"],
            cause_found=typed["cause_found"],
            seen=form.version,
            by=signed_in(request),
            at=timezone.now(),
        ),
        "The note on the pair is kept.",
    )


@may_review
@require_POST
def decide(request: HttpRequest, pk: int) -> HttpResponse:
    result = get_object_or_404(Result.objects.select_related("run__batch", "run__portion__sample"), pk=pk)
    place = f"decide_{result.pk}"
    return _act(
        request,
        batch_or_404(result.run.batch.number),
        place,
        form := DecisionForm(request.POST, prefix=place),
        lambda typed: review_rules.decide(
            result,
            typed["choice"],
            note=typed["note"],
            seen=form.version,
            by=signed_in(request),
            at=timezone.now(),
        ),
        f"The decision on {result.run.title} is kept.",
    )


@sensitive_post_parameters()
@may_review
@require_POST
def approve(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    return _act(
        request,
        batch,
        "signature",
        form := SignatureForm(request.POST, prefix="sign"),
        lambda typed: review_rules.approve(
            batch,
            why_rest=typed["why_rest"],
            seen=form.version,
            by=signed_in(request),
            at=timezone.now(),
            secret=typed["secret"],
        ),
        f"{capfirst(str(batch))} is approved and signed.",
    )


@may_review
@require_POST
def return_batch(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    return _act(
        request,
        batch,
        "return",
        form := GiveBackForm(request.POST, label=WHY_RETURNED, prefix="return"),
        lambda typed: review_rules.return_to_bench(
            batch, reason=typed["reason"], seen=form.version, by=signed_in(request), at=timezone.now()
        ),
        f"{capfirst(str(batch))} went back to the bench.",
    )


@may_review
@require_POST
def reject(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    return _act(
        request,
        batch,
        "reject",
        form := GiveBackForm(request.POST, label=WHY_REJECTED, prefix="reject"),
        lambda typed: review_rules.reject(
            batch, reason=typed["reason"], seen=form.version, by=signed_in(request), at=timezone.now()
        ),
        f"{capfirst(str(batch))} is rejected. Its samples wait for new portions.",
    )
