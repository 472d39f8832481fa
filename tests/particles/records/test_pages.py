"""Every list is cut into pages in one way."""

from __future__ import annotations

import re

import pytest
from django.template.loader import render_to_string
from django.test import RequestFactory

from particles.records.pages import page_of


def shown(address: str, rows: int, key: str = "page") -> str:
    page = page_of(RequestFactory().get(address), range(rows), key=key)
    return re.sub(r"\s+", " ", render_to_string("components/_pages.html", {"page": page})).strip()


def test_a_page_in_the_middle_leads_both_ways_and_says_what_it_shows() -> None:
    assert shown("/?page=2", 130) == (
        '<nav class="pages" aria-label="Pages of the list"> <a href="?page=1" rel="prev">Previous page</a> '
        '<span>51 to 100 of 130</span> <a href="?page=3" rel="next">Next page</a> </nav>'
    )


def test_what_else_the_address_asks_for_stays() -> None:
    text = shown("/?q=a%26b+c&page=4&held=2", 130, key="held")
    assert 'href="?q=a%26b+c&amp;page=4&amp;held=1"' in text
    assert 'href="?q=a%26b+c&amp;page=4&amp;held=3"' in text


@pytest.mark.parametrize(
    ("asked", "rows"), [("1", "1 to 50 of 60"), ("soon", "1 to 50 of 60"), ("9", "51 to 60 of 60")]
)
def test_a_page_that_is_not_there_is_the_nearest_there_is(asked: str, rows: str) -> None:
    assert f"<span>{rows}</span>" in shown(f"/?page={asked}", 60)


def test_a_list_of_one_page_has_no_links() -> None:
    assert shown("/", 50) == ""
