"""Whether a paper is genuine and current, for anybody who holds it; shows no client and no figures."""

from __future__ import annotations

import hashlib
import secrets
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from reports.certificates.forms import LARGEST_FILE, CodeForm, FileForm, NumberForm
from reports.certificates.models import Certificate

ROOM_FOR_THE_FORM = 64 * 1024
"""What a form may weigh beside its file. [bytes]"""


# The cross-site check would read the whole body before its length is looked at; nothing is changed here.
@csrf_exempt
@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, number: str) -> HttpResponse:
    context: dict[str, Any] = {"number": number, "code_form": CodeForm(), "file_form": FileForm()}
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_FILE + ROOM_FOR_THE_FORM:
        return render(request, "reports/check/check.html", context | {"answer": "too large"}, status=413)
    typed = request.GET if request.method == "GET" else request.POST
    if request.method == "GET" and "code" not in typed:
        return render(request, "reports/check/check.html", context | {"answer": "ask"})
    code_form = context["code_form"] = CodeForm(typed)
    if not code_form.is_valid():
        return render(request, "reports/check/check.html", context | {"answer": "ask"}, status=422)
    code = code_form.cleaned_data["code"]
    found = _held(number, code)
    if found is None:
        return render(request, "reports/check/check.html", context | {"answer": "unknown"}, status=404)
    answer = _standing(found)
    context |= {"answer": answer, "certificate": found, "code": code}
    if request.method == "POST":
        context["file_form"] = form = FileForm(request.POST, request.FILES)
        if not form.is_valid():
            return render(request, "reports/check/check.html", context, status=422)
        context["same_bytes"] = _digest(form.cleaned_data["file"]) == found.sha256
    return render(request, "reports/check/check.html", context)


@login_not_required
@never_cache
@require_http_methods(["GET"])
def ask(request: HttpRequest) -> HttpResponse:
    """The form for whoever types the address without the number."""
    form = NumberForm(request.GET or None)
    if not form.is_valid():
        return render(request, "reports/check/ask.html", {"form": form}, status=422 if form.is_bound else 200)
    number, code = form.cleaned_data["number"], form.cleaned_data["code"]
    return redirect(f"{reverse('reports:check', args=[number])}?{urlencode({'code': code})}")


def _standing(found: Any) -> str:
    if found.newer:
        return "superseded"
    if found.withdrawn_at:
        return "withdrawn"
    return "doubted" if found.doubted_since else "current"


def _held(number: str, code: str) -> Any:
    """The certificate with this number and code; a wrong code takes the same way as a wrong number."""
    shown = ("number", "revision", "issued_at", "sha256", "key_sha256", "check_code")
    found = Certificate.objects.with_standing().only(*shown).filter(number=number).first()
    kept = found.check_code if found else secrets.token_hex(6)
    same = secrets.compare_digest(kept.encode(), "".join(code.split()).lower().encode())
    return found if same else None


def _digest(file: Any) -> str:
    running = hashlib.sha256()
    for part in file.chunks():
        running.update(part)
    return running.hexdigest()
