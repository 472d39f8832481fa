"""Between two tests that commit, the tables are emptied without being made anew."""

from __future__ import annotations

from functools import cache
from typing import Any

from django.db import connection, transaction

from particles.apps import enter_shipped_editions

KEPT = {"django_content_type", "auth_permission"}
"""Written by `migrate`, never by a test."""


@cache
def _emptying() -> str:
    """SQL for one transaction. The lock waits for whoever still writes, as TRUNCATE would."""
    tables = set(connection.introspection.django_table_names(only_existing=True, include_views=False))
    names = [connection.ops.quote_name(table) for table in sorted(tables - KEPT)]
    return "; ".join(
        [
            f"LOCK TABLE {', '.join(names)}",
            "SET LOCAL session_replication_role = replica",  # the triggers refuse to delete a record
            *[f"DELETE FROM {name}" for name in names],
        ]
    )


def empty_tables(_test_case: Any) -> None:
    """
    Leave what `migrate` leaves: no rows but the shipped editions, content types and permissions.

    Stands in for Django's flush, which truncates every table, new files for each, and then
    installs all triggers again: 0.5 s after each test that commits, more than most of them take.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(_emptying())
    enter_shipped_editions()
