"""Pages of the proficiency rounds: the list, and one round from its samples to the answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_POST

from batches.entries.forms import ReasonForm
from batches.proficiency import rules
from batches.proficiency.forms import AnswerForm, AssignedValueForm, RoundForm, RoundSampleForm
from batches.proficiency.models import AssignedValue, Round, RoundSample
from batches.proficiency.rows import links_to_score, locked_rows, round_rows
from batches.proficiency.scores import LEAST_PARTICIPANTS, SHARE_OF_SIGMA
from particles.records.pages import ShownAgain, act_on, page_of
from particles.records.person import signed_in

may_see = permission_required("batches.see_rounds", raise_exception=True)
may_keep = permission_required("batches.keep_rounds", raise_exception=True)
WHY_NOT_OF_IT = "Why it is not of this round"


@may_see
@require_GET
def rounds(request: HttpRequest) -> HttpResponse:
    return _list(request, RoundForm())


def _list(request: HttpRequest, form: RoundForm, status: int = 200) -> HttpResponse:
    rules.require_not_at_the_bench(signed_in(request))
    page = page_of(request, Round.objects.select_related("lock").prefetch_related("samples__taken_back"))
    context = {"page": page, "rows": round_rows(list(page)), "form": form, "today": timezone.localdate()}
    return render(request, "batches/proficiency/rounds.html", context, status=status)


@may_keep
@require_POST
def open_round(request: HttpRequest) -> HttpResponse:
    form = RoundForm(request.POST)
    outcome = act_on(form, lambda typed: rules.open_round(by=signed_in(request), at=timezone.now(), **typed))
    if isinstance(outcome, ShownAgain):
        return _list(request, form, outcome.status)
    messages.success(request, f"{capfirst(str(outcome.made))} is open. Say which samples came from it.")
    return redirect("batches:round", pk=outcome.made.pk)


@may_see
@require_GET
def one_round(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk)


def _page(request: HttpRequest, pk: int, status: int = 200, **refused: Any) -> HttpResponse:
    rules.require_not_at_the_bench(signed_in(request))
    of = get_object_or_404(Round.objects.select_related("lock__by", "by"), pk=pk)
    lock, keeps = getattr(of, "lock", None), request.user.has_perm("batches.keep_rounds")
    links = rules.standing(of)
    context: dict[str, Any] = {
        "round": of,
        "today": timezone.localdate(),
        "locked_late_days": None if lock is None else (timezone.localdate(lock.at) - of.closes_on).days,
        "lock": lock,
        "keeps": keeps,
        "links": [{"link": link, "form": _back_form(link, refused)} for link in links],
        "taken_back": of.samples.filter(taken_back__isnull=False).select_related("sample", "taken_back__by"),
        "least": LEAST_PARTICIPANTS,
        "share_pct": 100 * SHARE_OF_SIGMA,
    }
    if lock is None and keeps:
        context["sample_form"] = refused.get("sample_form") or RoundSampleForm(prefix="sample")
    if lock is not None:
        context["rows"] = locked_rows(lock, _answer_forms(keeps, refused))
        if keeps:
            context["value_form"] = refused.get("value_form") or AssignedValueForm(
                links=links_to_score(of), prefix="value"
            )
    return render(request, "batches/proficiency/round.html", context, status=status)


def _back_form(link: RoundSample, refused: dict[str, Any]) -> ReasonForm:
    form: ReasonForm | None = refused.get(f"back_{link.pk}")
    return form or ReasonForm(label=WHY_NOT_OF_IT, prefix=f"back_{link.pk}")


def _answer_forms(keeps: bool, refused: dict[str, Any]) -> Callable[[AssignedValue], AnswerForm | None]:
    def form_of(assigned: AssignedValue) -> AnswerForm | None:
        if not keeps:
            return None
        form: AnswerForm | None = refused.get(f"answer_{assigned.pk}")
        return form or AnswerForm(prefix=f"answer_{assigned.pk}")

    return form_of


@may_keep
@require_POST
def add_sample(request: HttpRequest, pk: int) -> HttpResponse:
    of, form = get_object_or_404(Round, pk=pk), RoundSampleForm(request.POST, prefix="sample")
    outcome = act_on(
        form,
        lambda _: rules.add_sample(of, by=signed_in(request), at=timezone.now(), **form.as_arguments()),
    )
    if isinstance(outcome, ShownAgain):
        return _page(request, pk, outcome.status, sample_form=form)
    messages.success(
        request, f"{capfirst(str(outcome.made.sample))} is {outcome.made}. The bench is not told."
    )
    return redirect("batches:round", pk=pk)


@may_keep
@require_POST
def take_back(request: HttpRequest, pk: int, link: int) -> HttpResponse:
    held = get_object_or_404(RoundSample.objects.select_related("round", "sample"), pk=link, round=pk)
    form = ReasonForm(request.POST, label=WHY_NOT_OF_IT, prefix=f"back_{link}")
    outcome = act_on(
        form, lambda typed: rules.take_back(held, by=signed_in(request), at=timezone.now(), **typed)
    )
    if isinstance(outcome, ShownAgain):
        return _page(request, pk, outcome.status, **{f"back_{link}": form})
    messages.success(request, f"{capfirst(str(held.sample))} is no longer of {held.round}; both rows stay.")
    return redirect("batches:round", pk=pk)


@may_keep
@require_POST
def lock(request: HttpRequest, pk: int) -> HttpResponse:
    made = rules.lock_results(get_object_or_404(Round, pk=pk), by=signed_in(request), at=timezone.now())
    messages.success(
        request, f"The results are locked, digest {made.digest[:16]}…. Send them, then enter the report."
    )
    return redirect("batches:round", pk=pk)


@may_keep
@require_POST
def enter_value(request: HttpRequest, pk: int) -> HttpResponse:
    of = get_object_or_404(Round.objects.select_related("lock"), pk=pk)
    form = AssignedValueForm(request.POST, links=links_to_score(of), prefix="value")
    outcome = act_on(
        form, lambda typed: rules.enter_assigned(by=signed_in(request), at=timezone.now(), **typed)
    )
    if isinstance(outcome, ShownAgain):
        return _page(request, pk, outcome.status, value_form=form)
    messages.success(request, f"{capfirst(str(outcome.made))} is entered; its scores stand below.")
    return redirect("batches:round", pk=pk)


@may_keep
@require_POST
def answer(request: HttpRequest, pk: int, assigned: int) -> HttpResponse:
    held = get_object_or_404(
        AssignedValue.objects.select_related("link__round", "lock"), pk=assigned, link__round=pk
    )
    form = AnswerForm(request.POST, prefix=f"answer_{assigned}")
    outcome = act_on(
        form, lambda typed: rules.answer(held, by=signed_in(request), at=timezone.now(), **typed)
    )
    if isinstance(outcome, ShownAgain):
        return _page(request, pk, outcome.status, **{f"answer_{assigned}": form})
    messages.success(request, "The answer is kept beside the scores.")
    return redirect("batches:round", pk=pk)
