"""
Queries that are written once and asked with other values each time.

Writing the SQL of a query costs several times what the database needs to answer it. Where a person waits for it, as
with each reading, it is written at its first use and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, TypeVar
from uuid import UUID

from django.db import DEFAULT_DB_ALIAS, connection
from django.db.models import Model, QuerySet
from django.db.transaction import TransactionManagementError

M = TypeVar("M", bound=Model)


class WrittenOnce:
    """
    A queryset of `values()` as a function of keys, whose SQL is written at the first call.

    `marks` are the names of the keys, each with a value that stands for it while the SQL is written and stands for
    nothing else there.
    """

    def __init__(self, make: Callable[..., QuerySet[Any, Any]], **marks: int | UUID) -> None:
        self.make, self.marks = make, marks
        self._columns: list[str] = []
        self._locks = False

    @cached_property
    def _written(self) -> tuple[str, list[Any]]:
        """SQL, and its parameters with a `_Key` in the place of each key."""
        query = self.make(**self.marks).query
        sql, values = query.get_compiler(DEFAULT_DB_ALIAS).as_sql()
        self._locks = bool(query.select_for_update)
        named = {mark: _Key(name) for name, mark in self.marks.items()}
        parameters = [named.get(each, each) if isinstance(each, (int, UUID)) else each for each in values]
        missing = set(self.marks) - {each.name for each in parameters if isinstance(each, _Key)}
        assert not missing, f"the query does not ask for {missing}"
        return sql, parameters

    def __call__(self, **keys: int | UUID) -> list[dict[str, Any]]:
        """The rows for these keys."""
        sql, parameters = self._written
        if self._locks and connection.get_autocommit():
            raise TransactionManagementError("rows are locked inside a transaction only")
        values = [keys[each.name] if isinstance(each, _Key) else each for each in parameters]
        with connection.cursor() as cursor:
            cursor.execute(sql, values)
            if not self._columns:
                self._columns = [each.name for each in cursor.description or ()]
            return [dict(zip(self._columns, row, strict=True)) for row in cursor.fetchall()]


class _Key:
    """The place of one key among the parameters."""

    def __init__(self, name: str) -> None:
        self.name = name


def columns_of(model: type[Model], path: str = "") -> list[str]:
    """Every column of a model for `values()`, reached by a path such as `cylinder__`."""
    return [path + each.attname for each in model._meta.concrete_fields]


def row_of(model: type[M], values: Mapping[str, Any], path: str = "") -> M:
    """The row of a model whose columns were asked for under a path; what was not asked for is fetched when needed."""
    asked = [each.attname for each in model._meta.concrete_fields if path + each.attname in values]
    return model.from_db(DEFAULT_DB_ALIAS, asked, [values[path + name] for name in asked])
