"""The pages on which the manager makes log-ins, gives and takes roles, and closes and opens log-ins."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from labsite.people import rules
from labsite.people.forms import NewPersonForm, PersonForm
from labsite.people.models import User
from labsite.people.permissions import Permission
from labsite.people.roles import in_words
from labsite.people.rows import changes
from particles.records.history import last_change
from particles.records.pages import Done, act_on, page_of, seen_by

may_keep_people = permission_required(Permission.KEEP_PEOPLE, raise_exception=True)


@require_GET
@may_keep_people
def people(request: HttpRequest) -> HttpResponse:
    listed = User.objects.order_by("-is_active", "first_name", "last_name", "username")
    return render(request, "people/people.html", {"people": page_of(request, listed), "roles": in_words()})


@require_http_methods(["GET", "POST"])
@may_keep_people
def new(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)
    outcome = act_on(form, lambda typed: rules.add_person(**typed))
    if isinstance(outcome, Done):
        messages.success(request, f"{outcome.made} has a log-in. Set its first password now.")
        return redirect("people:person", outcome.made.pk)
    return render(request, "people/new.html", {"form": form}, status=outcome.status)


@require_http_methods(["GET", "POST"])
@may_keep_people
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """One log-in: its standing, its history, and the form that corrects name and roles."""
    kept = get_object_or_404(User, pk=pk)
    now = {"full_name": kept.get_full_name(), "initials": kept.initials, "roles": kept.roles}
    form = PersonForm(request.POST or None, initial=now)
    outcome = act_on(
        form, lambda typed: rules.change_person(kept, by=_manager(request), seen=seen_by(request), **typed)
    )
    if isinstance(outcome, Done):
        kept.refresh_from_db()
        changed = f"This is on record of {kept} now."
        messages.success(request, changed if outcome.made else f"Nothing of {kept} was changed.")
        return redirect("people:person", kept.pk)
    context = {"form": form, "person": kept, "seen": last_change(kept), "changes": changes(kept)}
    return render(request, "people/person.html", context, status=outcome.status)


@require_POST
@may_keep_people
def close(request: HttpRequest, pk: int) -> HttpResponse:
    closed = get_object_or_404(User, pk=pk)
    rules.close(closed, by=_manager(request), seen=seen_by(request))
    messages.success(request, f"The log-in of {closed} is closed, and every session of it has ended.")
    return redirect("people:person", closed.pk)


@require_POST
@may_keep_people
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    opened = get_object_or_404(User, pk=pk)
    rules.reopen(opened, seen=seen_by(request))
    messages.success(request, f"The log-in of {opened} is open again.")
    return redirect("people:person", opened.pk)


@never_cache
@require_POST
@may_keep_people
@sensitive_variables("secret")
def password(request: HttpRequest, pk: int) -> HttpResponse:
    """The answer is the only page that ever shows the new password; sent again it is refused."""
    owner = get_object_or_404(User, pk=pk)
    secret = rules.new_password(owner, by=_manager(request), seen=seen_by(request))
    return render(request, "people/password.html", {"person": owner, "secret": secret})


def _manager(request: HttpRequest) -> Any:
    return request.user
