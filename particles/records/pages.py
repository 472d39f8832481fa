"""Lists cut into pages, and what a sent page says it has seen."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest, QueryDict

ROWS_PER_PAGE = 50
LONGEST_NUMBER = 18
"""Digits of a number of a row that the database can hold."""


class ListPage(Page[Any]):
    """One page of a list; it knows the addresses of its neighbours, whatever else the address asks for."""

    def __init__(self, page: Page[Any], *, asked: QueryDict, key: str) -> None:
        super().__init__(page.object_list, page.number, page.paginator)
        self.asked, self.key = asked, key

    @property
    def address_before(self) -> str:
        return self._address(self.previous_page_number())

    @property
    def address_after(self) -> str:
        return self._address(self.next_page_number())

    def _address(self, number: int) -> str:
        asked = self.asked.copy()
        asked[self.key] = str(number)
        return f"?{asked.urlencode()}"


def page_of(request: HttpRequest, rows: Any, *, key: str = "page") -> ListPage:
    """The page asked for by `key` in the address, or the nearest there is; shown by `components/_pages.html`."""
    page = Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get(key))
    return ListPage(page, asked=request.GET, key=key)


def seen_by(request: HttpRequest) -> int:
    """The last change that a sent page carried in `seen`; a page without it has seen nothing."""
    sent = request.POST.get("seen", "")
    return int(sent) if sent.isdecimal() and len(sent) <= LONGEST_NUMBER else 0
