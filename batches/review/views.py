"""Review by somebody else, up to the signature."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from batches.causes.forms import AnswerForm
from batches.causes.kept import causes_in_force
from batches.causes.rows import place_of
from batches.causes.rules import answer_cause
from batches.computing.models import Result
from batches.computing.rows import state_kind
from batches.planning.models import UNDER_REVIEW, Batch, Run
from batches.review import rules as review_rules
from batches.review.examination import examine
from batches.review.forms import (
    DecisionForm,
    GiveBackForm,
    PairNoteForm,
    QualityLookForm,
    SignatureForm,
)
from batches.review_page.refused import Refused, out_of_sight
from batches.review_page.rows import WHY_REJECTED, WHY_RETURNED, review_context
from batches.review_page.waiting import waiting_batches
from batches.room.lookups import batch_or_404
from particles.records.pages import ShownAgain, act_on, page_of
from particles.records.person import signed_in

may_look = permission_required("batches.see_reviews", raise_exception=True)
may_review = permission_required("batches.review", raise_exception=True)


@may_look
@require_GET
def review_list(request: HttpRequest) -> HttpResponse:
    page = page_of(request, waiting_batches(at=timezone.now()))
    return render(request, "batches/review/list.html", {"page": page})


@may_look
@require_GET
def review(request: HttpRequest, number: str) -> HttpResponse:
    return _page(request, batch_or_404(number))


def _page(
    request: HttpRequest, batch: Batch, status: int = 200, *, refused: Sequence[Refused] = (), **forms: Any
) -> HttpResponse:
    asked = request.GET.get("decide", "")
    deciding = int(asked) if asked.isdecimal() and len(asked) < 18 else None
    context = review_context(batch, request.user, forms, at=timezone.now(), deciding=deciding)
    told = [*refused, *out_of_sight(forms, context)]
    context |= {"kind": state_kind(batch.state), "said": _said(request), "refused": told}
    return render(request, "batches/review/review.html", context, status=status)


def _said(request: HttpRequest) -> dict[str, Any]:
    """What was just done, by the name of its place on the page."""
    return {message.extra_tags or "top": message for message in messages.get_messages(request)}


def _act(
    request: HttpRequest,
    batch: Batch,
    place: str,
    form: Any,
    act: Callable[[dict[str, Any]], Any],
    done: str,
    *,
    shown_at: str = "",
) -> HttpResponse:
    """Do one thing of a review; a complaint comes back on its own form, what was done is said at the same place."""
    outcome, fresh = act_on(form, act), batch_or_404(batch.number)
    if isinstance(outcome, ShownAgain):
        said_at = (shown_at or place) if fresh.state in UNDER_REVIEW else "top"
        for sentence in form.non_field_errors():  # also where the form is not drawn any more
            messages.error(request, str(sentence), extra_tags=said_at)
        return _page(request, fresh, outcome.status, **{place: form})
    messages.success(request, done, extra_tags=shown_at or place)
    return redirect(f"{reverse('batches:review', args=[batch.number])}#{shown_at or place}")


@may_review
@require_POST
def look_at_quality(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    return _act(
        request,
        batch,
        "verdict",
        form := QualityLookForm(request.POST, prefix="look"),
        lambda typed: review_rules.look_at_quality(
            batch, note=typed["note"], seen=form.version, by=signed_in(request), at=timezone.now()
        ),
        "Kept: quality control was looked at.",
    )


@may_review
@require_POST
def answer(request: HttpRequest, number: str, key: str) -> HttpResponse:
    """Answer one cause for all its runs."""
    batch, now, place = batch_or_404(number), timezone.now(), place_of(key)
    runs = examine(batch)
    causes = causes_in_force(batch, runs, at=now).causes
    found = next((each.cause for each in causes if each.cause.key == key), None)
    if found is None:
        sentence = "That cause is not found any more: what is recorded has changed. Nothing was kept."
        typed = request.POST.get(f"{place}-note", "").strip()
        words = (("What was looked at, and why", typed),) if typed else ()
        return _page(request, batch, 409, refused=[Refused((sentence,), words)])
    reported = [each.run.title for each in runs if each.run.is_reported]
    return _act(
        request,
        batch,
        place,
        form := AnswerForm(request.POST, prefix=place, cause=found, reported=reported),
        lambda typed: answer_cause(
            batch, key, by=signed_in(request), at=now, **(typed | {"seen": form.version})
        ),
        "The answer is kept.",
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
            cause_found=form.cause_found,
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
            by=signed_in(request),
            at=timezone.now(),
            seen=form.version,
        ),
        f"The decision on {result.run.title} is kept.",
        shown_at=f"run-{result.run_id}",
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
            what_became=typed["what_became"],
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
        shown_at="top",
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
        shown_at="top",
    )
