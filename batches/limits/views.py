"""Pages of quality control: the charts, their limits, and the reference soils."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.entries.forms import ReasonForm
from batches.limits import rules
from batches.limits.forms import AnswerForm, LimitsForm, ReferenceSoilForm, TakeUpForm
from batches.limits.judging import Proposal
from batches.limits.keys import ChartKey
from batches.limits.models import LimitsVersion
from batches.limits.rows import chart_rows, name_of, point_rows
from batches.planning.models import Run
from batches.planning.rules import samples_per_duplicate
from batches.quality.run_rules import LABORATORY
from particles.models import ReferenceSoil
from particles.records.pages import ShownAgain, act_on, page_of
from particles.records.person import signed_in
from particles.reference_soils.rules import use_up

may_see = permission_required("batches.see_duplicates", raise_exception=True)
may_keep = permission_required("batches.keep_limits", raise_exception=True)
WHY_USED_UP = "Why no portion of it is placed any more"


@may_see
@require_GET
def quality(request: HttpRequest) -> HttpResponse:
    """Every chart with its state, what waits for somebody first."""
    context = {"rows": chart_rows(timezone.now()), "rate": samples_per_duplicate(), "rules": LABORATORY}
    return render(request, "batches/limits/quality.html", context)


@may_see
@require_GET
def chart(request: HttpRequest, address: str) -> HttpResponse:
    return _chart_page(request, _key_or_404(address))


def _key_or_404(address: str) -> ChartKey:
    key = ChartKey.parse(address)
    if key is None:
        raise Http404("There is no such chart.")
    return key


def _chart_page(request: HttpRequest, key: ChartKey, status: int = 200, **forms: Any) -> HttpResponse:
    name, now = name_of(key), timezone.now()
    if name is None:
        raise Http404("There is no such chart.")
    found = rules.chart_of(key, now)
    seen = found.newest.pk if found.newest else None
    limits_form = forms.pop("limits_form", None) or LimitsForm(
        key=key, proposal=found.proposal, initial={"seen": seen}
    )
    answered_run, answer_form = forms.pop("answer", (None, None))
    context = {
        "key": key,
        "name": name,
        "chart": found,
        "unit": key.quantity.unit,
        "in_force": found.in_force(now),
        "versions": found.versions[::-1],
        "proposal": found.proposal if isinstance(found.proposal, Proposal) else None,
        "why_no_proposal": found.proposal if isinstance(found.proposal, str) else "",
        "waiting": [
            (
                each,
                answer_form if each.point.run == answered_run else AnswerForm(prefix=f"run_{each.point.run}"),
            )
            for each in found.waiting
        ],
        "page": page_of(request, point_rows(found.judged)),
        "limits_form": limits_form,
        "take_up_form": TakeUpForm(initial={"seen": seen}, prefix="again"),
    } | forms
    return render(request, "batches/limits/chart.html", context, status=status)


@may_keep
@require_POST
def enter_limits(request: HttpRequest, address: str) -> HttpResponse:
    key, now = _key_or_404(address), timezone.now()
    form = LimitsForm(request.POST, key=key, proposal="")
    outcome = act_on(
        form, lambda _: rules.enter_limits(key, by=signed_in(request), at=now, **form.arguments(now))
    )
    if isinstance(outcome, ShownAgain):
        return _chart_page(request, key, outcome.status, limits_form=form)
    messages.success(request, "The limits are entered. They stay as they are until somebody enters others.")
    return redirect("batches:chart", address=address)


@may_keep
@require_POST
def take_up_again(request: HttpRequest, address: str, pk: int) -> HttpResponse:
    key, now = _key_or_404(address), timezone.now()
    version = get_object_or_404(LimitsVersion.of(key), pk=pk)
    form = TakeUpForm(request.POST, prefix="again")
    outcome = act_on(
        form,
        lambda typed: rules.take_up_again(
            version, reason=typed["reason"], seen=typed["seen"] or 0, by=signed_in(request), at=now
        ),
    )
    if isinstance(outcome, ShownAgain):
        return _chart_page(request, key, outcome.status, take_up_form=form)
    messages.success(request, "Its limits hold again, as a new version.")
    return redirect("batches:chart", address=address)


@may_keep
@require_POST
def answer_point(request: HttpRequest, address: str, pk: int) -> HttpResponse:
    key, now = _key_or_404(address), timezone.now()
    run = get_object_or_404(Run.objects.select_related("batch", "portion__sample"), pk=pk)
    form = AnswerForm(request.POST, prefix=f"run_{pk}")
    outcome = act_on(
        form,
        lambda typed: rules.answer_point(key.quantity, run, by=signed_in(request), at=now, **typed),
    )
    if isinstance(outcome, ShownAgain):
        return _chart_page(request, key, outcome.status, answer=(pk, form))
    messages.success(request, f"The answer to {run.batch} is kept.")
    return redirect("batches:chart", address=address)


@may_see
@require_http_methods(["GET", "POST"])
def soils(request: HttpRequest) -> HttpResponse:
    """The reference soils, and the form that enters one."""
    form = ReferenceSoilForm(request.POST if request.method == "POST" else None)
    may = request.user.has_perm("batches.keep_limits")
    status = 200
    if request.method == "POST" and not may:
        return _soils_page(request, form, 403)
    if may:
        outcome = act_on(form, lambda typed: _entered(request, typed))
        if not isinstance(outcome, ShownAgain):
            messages.success(request, f"{capfirst(str(outcome.made))} is entered. Give it its values next.")
            return redirect("batches:quality")
        status = outcome.status
    return _soils_page(request, form, status)


def _entered(request: HttpRequest, typed: dict[str, Any]) -> ReferenceSoil:
    return ReferenceSoil.enter(**typed, by=signed_in(request), at=timezone.now())


def _soils_page(
    request: HttpRequest, form: ReferenceSoilForm, status: int, refused: tuple[int, Any] = (0, None)
) -> HttpResponse:
    known = ReferenceSoil.objects.select_related("sample__job", "by", "used_up__by")
    context = {
        "form": form,
        "soils": [
            (
                soil,
                refused[1]
                if soil.pk == refused[0]
                else ReasonForm(label=WHY_USED_UP, prefix=f"end_{soil.pk}"),
            )
            for soil in known
        ],
    }
    return render(request, "batches/limits/soils.html", context, status=status)


@may_keep
@require_POST
def soil_used_up(request: HttpRequest, pk: int) -> HttpResponse:
    soil = get_object_or_404(ReferenceSoil, pk=pk)
    form = ReasonForm(request.POST, label=WHY_USED_UP, prefix=f"end_{pk}")
    outcome = act_on(form, lambda typed: use_up(soil, by=signed_in(request), at=timezone.now(), **typed))
    if isinstance(outcome, ShownAgain):
        return _soils_page(request, ReferenceSoilForm(), outcome.status, (pk, form))
    messages.success(request, f"No portion of {soil} is placed any more.")
    return redirect("batches:soils")
