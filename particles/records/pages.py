"""The paging of lists."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest

ROWS_PER_PAGE = 50


def page_of(request: HttpRequest, rows: Any, *, key: str = "page") -> Page[Any]:
    """The page asked for by `key` in the address, or the nearest there is."""
    return Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get(key))
