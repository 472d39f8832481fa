"""Lists cut into pages, what a sent page says it has seen, and one way to send, be refused and show again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django import forms
from django.core.paginator import Page, Paginator
from django.http import HttpRequest, QueryDict

from particles.records.refusals import NotThisPerson, RuleRefusal

ROWS_PER_PAGE = 50
Made = TypeVar("Made")

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


@dataclass(frozen=True)
class Done(Generic[Made]):
    """The outcome of a form that could be read and whose rule agreed; `made` is what the rule made."""

    made: Made


@dataclass(frozen=True)
class ShownAgain:
    """The outcome of a form whose page is shown once more, under this HTTP status."""

    status: int


def act_on(form: forms.BaseForm, act: Callable[[dict[str, Any]], Made]) -> Done[Made] | ShownAgain:
    """
    Read a form and do what its rule says, or say under which status its page is shown again.

    200 is for a form nobody has sent, 422 for one that cannot be read, 403 where the rule asks for another person,
    409 for any other refusal; the sentence of a refusal then stands on the form, beside what was typed.
    """
    if not form.is_valid():
        return ShownAgain(422 if form.is_bound else 200)
    try:
        return Done(act(form.cleaned_data))
    except RuleRefusal as refusal:
        form.add_error(None, str(refusal))
        return ShownAgain(403 if isinstance(refusal, NotThisPerson) else 409)
