"""The list of regulated areas, and one more for it."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from particles.permits.forms import RegulatedAreaForm
from particles.permits.models import RegulatedArea
from particles.permits.rules import list_area
from particles.records.pages import page_of


@require_GET
@permission_required("particles.keep_laboratory", raise_exception=True)
def regulated_areas(request: HttpRequest) -> HttpResponse:
    listed = RegulatedArea.objects.order_by("country", "region", "listed_on", "pk")
    return render(request, "particles/permits/areas.html", {"areas": page_of(request, listed)})


@require_http_methods(["GET", "POST"])
@permission_required("particles.keep_laboratory", raise_exception=True)
def regulated_area_new(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    form = RegulatedAreaForm(request.POST or None, initial={"listed_on": today.isoformat()})
    if not form.is_valid():
        status = 422 if request.method == "POST" else 200
        return render(request, "particles/permits/new_area.html", {"form": form}, status=status)
    area = list_area(**form.cleaned_data, today=today)
    messages.success(request, f"Soil from {area} is not opened from now on.")
    return redirect("particles:regulated_areas")
