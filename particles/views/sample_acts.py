"""Accept, hold or refuse one bag."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from particles.forms.sample_acts import AcceptForm, HoldForm, RefuseForm
from particles.models import Sample, SampleState
from particles.refusals import RuleRefusal

View = Callable[..., HttpResponse]


def _forms_for(sample: Sample) -> dict[str, forms.Form]:
    return {
        "accept": AcceptForm(held=sample.state == SampleState.ON_HOLD),
        "hold": HoldForm(),
        "refuse": RefuseForm(),
    }


def _read(act: str, sample: Sample, data: Any) -> forms.Form:
    if act == "accept":
        return AcceptForm(data, held=sample.state == SampleState.ON_HOLD)
    return HoldForm(data) if act == "hold" else RefuseForm(data)


def _act(act: str, done: str) -> View:
    """A page with the sample and what may be decided; sending its form does `act`."""

    @require_http_methods(["GET", "POST"])
    @permission_required("particles.receive", raise_exception=True)
    def view(request: HttpRequest, lab_number: str) -> HttpResponse:
        samples = Sample.objects.visible_to(request.user).select_related("job__client")
        sample = get_object_or_404(samples, lab_number=lab_number)
        if request.method == "GET":
            return _page(request, sample, _forms_for(sample))
        form = _read(act, sample, request.POST)
        if not form.is_valid():
            return _page(request, sample, _forms_for(sample) | {act: form}, status=422)
        try:
            getattr(sample, act)(by=request.user, at=timezone.now(), **form.cleaned_data)
        except RuleRefusal as refusal:
            form.add_error(None, str(refusal))
            return _page(request, sample, _forms_for(sample) | {act: form}, status=409)
        messages.success(request, f"Sample {sample.lab_number} {done}.")
        return redirect("particles:job", sample.job.number)

    return view


sample_accept = _act("accept", "is accepted and goes to preparation")
sample_hold = _act("hold", "is on hold")
sample_refuse = _act("refuse", "is refused")


def _page(
    request: HttpRequest, sample: Sample, by_act: dict[str, forms.Form], *, status: int = 200
) -> HttpResponse:
    rule = sample.regulated_by()
    may_become = Sample.MOVES.get(sample.state, ())
    context = {
        "sample": sample,
        "rule": rule,
        "facts": [
            ("Client", sample.job.client),
            ("Label on the bag", sample.client_label),
            ("Depth", sample.depth_text),
            ("Origin", ", ".join(filter(None, [sample.origin_region, sample.origin_country]))),
            ("Condition", sample.condition),
            ("Mass received", f"{sample.received_mass_g} g" if sample.received_mass_g else None),
        ],
        "forms": by_act,
        "may_accept": SampleState.ACCEPTED in may_become and rule is None,
        "may_hold": SampleState.ON_HOLD in may_become,
        "may_refuse": SampleState.REFUSED in may_become,
        "moves": sample.moves.select_related("by"),
    }
    return render(request, "particles/sample_acts.html", context, status=status)
