"""The page on which the QA officer puts the records of a batch right, and takes that back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from batches.corrections.models import MassCorrection
from batches.exchanging import rules
from batches.exchanging.forms import ExchangeForm, LeaveOutForm, MassForm, WhyForm
from batches.exchanging.models import PUT_RIGHT_IN, Exchange, LeftOut
from batches.exchanging.proposed import proposal_of
from batches.planning.freshness import page_version
from batches.planning.models import Batch
from batches.room.lookups import batch_or_404
from particles.records.pages import ShownAgain, act_on
from particles.records.person import signed_in

may_review = permission_required("batches.review", raise_exception=True)
KEPT = "The figures are computed anew; somebody other than you signs."
OF_A_RUN = ("cylinder", "portion__sample")


@may_review
@require_GET
def put_right(request: HttpRequest, number: str) -> HttpResponse:
    """The records of a batch; `cause` in the address names the cause that fills a form."""
    return _page(request, batch_or_404(number))


def _page(request: HttpRequest, batch: Batch, status: int = 200, **forms: Any) -> HttpResponse:
    is_open = batch.state in PUT_RIGHT_IN
    proposal = proposal_of(batch, request.GET.get("cause", ""), at=timezone.now()) if is_open else None

    def of_cause(form: str) -> dict[str, Any]:
        return proposal.initial if proposal is not None and proposal.form == form else {}

    context = {
        "batch": batch,
        "open": is_open,
        "proposal": proposal,
        "version": page_version(batch),
        "exchanges": _exchanges(batch),
        "left_out": LeftOut.objects.filter(run__batch=batch).select_related(
            "by", "lifted__by", *(f"run__{name}" for name in OF_A_RUN)
        ),
        "masses": MassCorrection.objects.filter(portion__run__batch=batch).select_related(
            "by", "weighing__portion__sample"
        ),
        "exchange_form": ExchangeForm(batch=batch, prefix="exchange", initial=of_cause("exchange")),
        "leave_out_form": LeaveOutForm(batch=batch, prefix="leave-out", initial=of_cause("leave_out")),
        "mass_form": MassForm(batch=batch, prefix="mass", initial=of_cause("mass")),
        "undo_form": WhyForm(prefix="undo"),
    } | forms
    return render(request, "batches/exchanging/put_right.html", context, status=status)


def _exchanges(batch: Batch) -> Any:
    runs = [f"{which}__{name}" for which in ("first", "second") for name in OF_A_RUN]
    return Exchange.objects.filter(first__batch=batch).select_related("by", "undone__by", *runs)


def _act(
    request: HttpRequest, batch: Batch, place: str, form: Any, act: Callable[[dict[str, Any]], Any], done: str
) -> HttpResponse:
    """Do one act; refused, the page comes back at its form, with the sentence and what was typed."""
    outcome = act_on(form, act)
    if isinstance(outcome, ShownAgain):
        fresh = batch_or_404(batch.number)
        if place == "undo_form" or fresh.state not in PUT_RIGHT_IN:
            for sentence in form.non_field_errors():  # the page may have no place for the form any more
                messages.error(request, str(sentence))
        return _page(request, fresh, outcome.status, **{place: form, "refused_at": request.path})
    messages.success(request, f"{done} {KEPT}")
    return redirect("batches:put_right", number=batch.number)


@may_review
@require_POST
def exchange(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    form = ExchangeForm(request.POST, batch=batch, prefix="exchange")
    return _act(
        request,
        batch,
        "exchange_form",
        form,
        lambda _: rules.exchange(**form.asked, seen=form.version, by=signed_in(request), at=timezone.now()),
        "The records are exchanged.",
    )


@may_review
@require_POST
def leave_out(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    form = LeaveOutForm(request.POST, batch=batch, prefix="leave-out")
    return _act(
        request,
        batch,
        "leave_out_form",
        form,
        lambda typed: rules.leave_out(
            typed["run"],
            typed["slots_s"],
            reason=typed["reason"],
            seen=form.version,
            by=signed_in(request),
            at=timezone.now(),
        ),
        "The readings are left out.",
    )


@may_review
@require_POST
def mass(request: HttpRequest, number: str) -> HttpResponse:
    batch = batch_or_404(number)
    form = MassForm(request.POST, batch=batch, prefix="mass")
    return _act(
        request,
        batch,
        "mass_form",
        form,
        lambda _: rules.put_mass_right(
            **form.asked, seen=form.version, by=signed_in(request), at=timezone.now()
        ),
        "The mass is put right.",
    )


@may_review
@require_POST
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    made = get_object_or_404(Exchange.objects.select_related("first__batch"), pk=pk)
    undone = partial(rules.undo_exchange, made)
    return _taken_back(request, made.first.batch, undone, "The exchange is undone.")


@may_review
@require_POST
def count_again(request: HttpRequest, pk: int) -> HttpResponse:
    left_out = get_object_or_404(LeftOut.objects.select_related("run__batch"), pk=pk)
    counted = partial(rules.count_again, left_out)
    return _taken_back(request, left_out.run.batch, counted, "The reading counts again.")


def _taken_back(request: HttpRequest, batch: Batch, rule: Callable[..., Any], said: str) -> HttpResponse:
    """Take one act back with a reason."""
    form = WhyForm(request.POST, prefix="undo")
    return _act(
        request,
        batch,
        "undo_form",
        form,
        lambda typed: rule(
            reason=typed["reason"], seen=form.version, by=signed_in(request), at=timezone.now()
        ),
        said,
    )
