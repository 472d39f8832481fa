"""Several people at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connection


def together(tasks: list[Callable[[], Any]]) -> list[Any]:
    """Run all tasks in threads of their own, each with its own database connection."""

    def closing(task: Callable[[], Any]) -> Any:
        try:
            return task()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(tasks)) as pool:
        return [future.result() for future in [pool.submit(closing, task) for task in tasks]]
