"""Turns a rule's refusal into a page a person can act on; any other error is a defect and rises."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from particles.refusals import NotThisPerson, RuleRefusal


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, RuleRefusal):
            return None
        status = 403 if isinstance(error, NotThisPerson) else 409
        words = {
            "title": "This cannot be done",
            "happened": str(error),
            "next_step": "Nothing was changed. Go back, put it right and try again.",
        }
        return render(request, "error.html", words, status=status)
