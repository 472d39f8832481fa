"""The clients, and who may see their jobs."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Count, Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from particles.clients.forms import ClientForm, ClientPersonForm
from particles.clients.models import Client, ClientPerson
from particles.records.pages import page_of


@require_GET
@permission_required("particles.keep_clients", raise_exception=True)
def clients(request: HttpRequest) -> HttpResponse:
    people = Prefetch("people", ClientPerson.objects.select_related("user").order_by("user__username"))
    listed = (
        Client.objects.visible_to(request.user)
        .annotate(jobs_number=Count("jobs"))
        .prefetch_related(people)
        .order_by("name")
    )
    return render(request, "particles/clients/clients.html", {"clients": page_of(request, listed)})


@require_http_methods(["GET", "POST"])
@permission_required("particles.keep_clients", raise_exception=True)
def client_new(request: HttpRequest) -> HttpResponse:
    form = ClientForm(request.POST if request.method == "POST" else None)
    if not form.is_valid():
        status = 422 if request.method == "POST" else 200
        return render(request, "particles/clients/new.html", {"form": form}, status=status)
    made = Client.objects.create(**form.cleaned_data)
    messages.success(request, f"{made.name} is a client now.")
    return redirect("particles:clients")


@require_http_methods(["GET", "POST"])
@permission_required("particles.keep_clients", raise_exception=True)
def client_person_new(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client.objects.visible_to(request.user), pk=pk)
    form = ClientPersonForm(request.POST if request.method == "POST" else None, client=client)
    if not form.is_valid():
        context: dict[str, Any] = {"form": form, "client": client}
        return render(
            request,
            "particles/clients/new_person.html",
            context,
            status=422 if request.method == "POST" else 200,
        )
    user: Any = form.cleaned_data["username"]
    manager: Any = request.user
    ClientPerson.objects.create(
        client=client,
        user=user,
        granted_by=manager,
        granted_at=timezone.now(),
        consent=form.cleaned_data["consent"],
    )
    messages.success(request, f"{user} may see the jobs of {client} from now on.")
    return redirect("particles:clients")
