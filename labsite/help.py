"""The help page: how the work goes, what each role may do, and every finding the program can make."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from labsite.people.roles import in_words
from particles.distribution import CATALOGUE
from particles.distribution.findings.catalogue.listed import limits_in_words, next_steps, sentences


@dataclass(frozen=True)
class ListedFinding:
    """One finding as the help page tells it."""

    title: str
    reach: str
    """'note', 'warn' or 'stop', or all it may have."""
    sentences: tuple[str, ...]
    next_steps: tuple[str, ...]
    limits: tuple[str, ...]
    printed: str
    """As a certificate names it; '' when it is never printed."""


def help_page(request: HttpRequest) -> HttpResponse:
    """The page Help, for everybody who is logged in."""
    return render(request, "help.html", {"findings": list(_listed()), "roles": in_words()})


def _listed() -> Iterator[ListedFinding]:
    for row in CATALOGUE.values():
        yield ListedFinding(
            title=row.title,
            reach=", ".join(row.severities),
            sentences=sentences(row),
            next_steps=next_steps(row),
            limits=limits_in_words(row),
            printed=row.client or "",
        )
