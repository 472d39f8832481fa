"""The addresses of the site, and one that keeps what was sent by one INSERT and asks nothing."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, JsonResponse
from django.urls import path
from django.views.decorators.csrf import csrf_exempt

from labsite.urls import urlpatterns as of_the_site

BARE_TABLE = "bare_insert"


@csrf_exempt
@login_not_required
def bare(request: HttpRequest) -> JsonResponse:
    """One row of the body as it came: what a server and its database can do at most."""
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {BARE_TABLE} (content) VALUES (%s)", [request.body.decode()])
    return JsonResponse({"stored": True}, status=201)


urlpatterns = [*of_the_site, path("bare/", bare)]
