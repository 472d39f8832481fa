"""Addresses of the site: log-in, help, and the pages of each app."""

from allauth.account import views as account
from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, URLResolver, include, path

from labsite.help import help_page
from labsite.navigation import page


def home(request: HttpRequest) -> HttpResponse:
    """The first place this person works at."""
    places = page(request)["navigation"]
    if places:
        return redirect(places[0]["url"])
    context = {
        "title": "No work here yet",
        "happened": "Your log-in has no role.",
        "next_step": "Ask the laboratory manager to give you one.",
    }
    return render(request, "error.html", context, status=403)


@login_not_required
def healthz(request: HttpRequest) -> JsonResponse:
    """Alive, and the database answers."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"well": True})


urlpatterns: list[URLPattern | URLResolver] = [
    path("", home, name="home"),
    path("help/", help_page, name="help"),
    path("healthz", healthz, name="healthz"),
    path("account/login/", account.login, name="account_login"),
    path("account/logout/", account.logout, name="account_logout"),
    path("account/password/", account.password_change, name="account_change_password"),
    path("account/again/", account.reauthenticate, name="account_reauthenticate"),
    path("account/inactive/", account.account_inactive, name="account_inactive"),
    path("account/second-factor/", include("allauth.mfa.urls")),
    path("people/", include("labsite.people.urls")),
    path("", include("particles.urls")),
    path("", include("batches.urls")),
    path("", include("reports.urls")),
]
