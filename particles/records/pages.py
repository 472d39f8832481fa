from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest

ROWS_PER_PAGE = 50
LONGEST_NUMBER = 18
"""Digits of a number of a row that the database can hold."""


def page_of(request: HttpRequest, rows: Any, *, key: str = "page") -> Page[Any]:
    """The page asked for by `key` in the address, or the nearest there is."""
    return Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get(key))


def seen_by(request: HttpRequest) -> int:
    """The last change that a sent page carried in `seen`; a page without it has seen nothing."""
    sent = request.POST.get("seen", "")
    return int(sent) if sent.isdecimal() and len(sent) <= LONGEST_NUMBER else 0
