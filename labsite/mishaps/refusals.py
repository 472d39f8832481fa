"""Turns a rule's refusal into a page a person can act on; any other error is a defect and rises."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import render

from particles.records.refusals import NotThisPerson, RuleRefusal


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if isinstance(answer, HttpResponseNotAllowed) and request.accepts("text/html"):
            return _only_by_a_form(request, answer)
        return answer

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


def _only_by_a_form(request: HttpRequest, answer: HttpResponse) -> HttpResponse:
    """For whoever reloads, or types the address of, what a form sends; programs read the header."""
    words = {
        "title": "Nothing to show here",
        "happened": "This address only takes what a form sends. Nothing was changed.",
        "next_step": "Go back to the page with the form.",
    }
    shown = render(request, "error.html", words, status=answer.status_code)
    shown["Allow"] = answer["Allow"]
    return shown
