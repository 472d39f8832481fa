"""Put right what a client supplied: a label, a depth, a day, a reference, a name."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from particles.clients.models import Client
from particles.corrections.forms import FORMS
from particles.corrections.rules import correct_facts
from particles.receiving.models import Job, Sample
from particles.records.pages import ShownAgain, act_on
from particles.records.person import signed_in


@require_http_methods(["GET", "POST"])
@permission_required("particles.receive", raise_exception=True)
def correct_sample(request: HttpRequest, lab_number: str) -> HttpResponse:
    samples = Sample.objects.visible_to(request.user).select_related("job")
    sample = get_object_or_404(samples, lab_number=lab_number)
    return _corrected(request, sample, reverse("particles:job", args=[sample.job.number]))


@require_http_methods(["GET", "POST"])
@permission_required("particles.receive", raise_exception=True)
def correct_job(request: HttpRequest, number: str) -> HttpResponse:
    job = get_object_or_404(Job.objects.visible_to(request.user), number=number)
    return _corrected(request, job, reverse("particles:job", args=[job.number]))


@require_http_methods(["GET", "POST"])
@permission_required("particles.keep_clients", raise_exception=True)
def correct_client(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client.objects.visible_to(request.user), pk=pk)
    return _corrected(request, client, reverse("particles:clients"))


def _corrected(request: HttpRequest, thing: Any, back: str) -> HttpResponse:
    form = FORMS[type(thing)](request.POST or None, of=thing)
    context = {"form": form, "thing": thing, "back": back}
    context["corrections"] = thing.corrections.select_related("by")
    outcome = act_on(
        form,
        lambda typed: correct_facts(
            thing, by=signed_in(request), at=timezone.now(), reason=typed["reason"], **form.right
        ),
    )
    if isinstance(outcome, ShownAgain):
        return render(request, "particles/corrections/correct.html", context, status=outcome.status)
    messages.success(request, f"Corrected: {'; '.join(str(each) for each in outcome.made)}.")
    return redirect(back)
