"""What one save of a tablet asks of the database, statement by statement."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

MOST_FOR_A_READING = 12
"""Statements of one stored reading, BEGIN and COMMIT among them, by a process that knows the method and hydrometer."""


def statements_of(browser: Client, body: Any, **headers: str) -> tuple[Any, list[str]]:
    """The response to one POST at the tablets' door, and every statement from the session to the last COMMIT."""
    with CaptureQueriesContext(connection) as asked:
        response = browser.post("/bench/entries/", body, content_type="application/json", **headers)
    return response, [each["sql"] for each in asked.captured_queries]


def listed(statements: list[str]) -> str:
    """The statements, numbered, each shortened to a line."""
    return "\n".join(f"{n:2} {' '.join(sql.split())[:160]}" for n, sql in enumerate(statements, start=1))


def queries_of_one_save(headers: dict[str, str], entry: tuple[str, str]) -> int:
    """How many statements one stored entry takes, sent with the headers of a logged-in tablet."""
    browser = Client(enforce_csrf_checks=True, SERVER_NAME="127.0.0.1")
    in_wsgi = {f"HTTP_{name.upper().replace('-', '_')}": value for name, value in headers.items()}
    response, statements = statements_of(browser, entry[1], **in_wsgi)
    if response.status_code != 201:
        raise SystemExit(f"The entry that is counted was not stored: {response.content.decode()}")
    return len(statements)
