"""The middleware that turns a rule's refusal into a page a person can act on; any other error rises as a defect."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import render

from particles.records.refusals import NotThisPerson, RuleRefusal


class RefusalMiddleware:
    """Answers 403 where another person must act, 409 where the rule says no, and 405 with words for a browser."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if isinstance(response, HttpResponseNotAllowed) and request.accepts("text/html"):
            return _only_by_a_form(request, response)
        return response

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, RuleRefusal):
            return None
        status = 403 if isinstance(error, NotThisPerson) else 409
        context = {
            "title": "This cannot be done",
            "happened": str(error),
            "next_step": "Nothing was changed. Go back, put it right and try again.",
        }
        return render(request, "error.html", context, status=status)


def _only_by_a_form(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """The page for whoever reloads what a form sent, or types its address; programs read the header."""
    context = {
        "title": "Nothing to show here",
        "happened": "This address only takes what a form sends. Nothing was changed.",
        "next_step": "Go back to the page with the form.",
    }
    shown = render(request, "error.html", context, status=response.status_code)
    shown["Allow"] = response["Allow"]
    return shown
