"""The page on which the manager says what certificates print of the laboratory."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.forms.models import model_to_dict
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from particles.laboratory.forms import LaboratoryForm
from particles.laboratory.models import Laboratory
from particles.laboratory.rules import describe_laboratory
from particles.records.history import last_change
from particles.records.pages import Done, act_on, seen_by


@require_http_methods(["GET", "POST"])
@permission_required("particles.keep_laboratory", raise_exception=True)
def laboratory(request: HttpRequest) -> HttpResponse:
    kept = Laboratory.objects.first()
    form = LaboratoryForm(request.POST or None, initial=model_to_dict(kept) if kept else None)
    outcome = act_on(form, lambda typed: describe_laboratory(typed, seen=seen_by(request)))
    if isinstance(outcome, Done):
        messages.success(request, "This is what certificates print of the laboratory from now on.")
        return redirect("particles:laboratory")
    context = {"form": form, "kept": kept, "seen": last_change(kept) if kept else 0}
    return render(request, "particles/laboratory/laboratory.html", context, status=outcome.status)
