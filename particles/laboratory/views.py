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
from particles.records.pages import seen_by
from particles.records.refusals import RuleRefusal


@require_http_methods(["GET", "POST"])
@permission_required("particles.keep_laboratory", raise_exception=True)
def laboratory(request: HttpRequest) -> HttpResponse:
    kept = Laboratory.objects.first()
    form = LaboratoryForm(request.POST or None, initial=model_to_dict(kept) if kept else None)
    status = 422 if form.is_bound else 200
    if form.is_valid():
        try:
            describe_laboratory(form.cleaned_data, seen=seen_by(request))
        except RuleRefusal as refusal:
            form.add_error(None, str(refusal))
            status = 409
        else:
            messages.success(request, "This is what certificates print of the laboratory from now on.")
            return redirect("particles:laboratory")
    context = {"form": form, "kept": kept, "seen": last_change(kept) if kept else 0}
    return render(request, "particles/laboratory/laboratory.html", context, status=status)
