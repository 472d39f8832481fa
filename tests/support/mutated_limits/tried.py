"""One mutant at a time: a process whose import of one module finds other source."""

from __future__ import annotations

import importlib.machinery
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.abc import MetaPathFinder
from pathlib import Path
from types import CodeType
from typing import Any

import pytest

from tests.support.mutated_limits.found import Limit
from tests.support.mutated_limits.processes import PACKAGE, ROOT, in_a_process, run_tests
from tests.support.mutated_limits.reached import Reached, Readers

THRESHOLDS = "/test_thresholds_"
"""Files written to hold limits begin so; they are tried first."""
PATIENCE_S = 600
"""A mutant that keeps a test busy for so long is found out too."""


@dataclass
class Outcome:
    """What became of one mutant."""

    limit: str
    file: str
    line: int
    value: float
    mutated_to: float
    held_by: str = ""
    """The first test that failed; '' for a survivor."""
    took_s: float = 0.0


class _MutatedSource(importlib.machinery.SourceFileLoader):
    """Loads one module from other source than its file holds."""

    def __init__(self, name: str, path: str, source: bytes) -> None:
        super().__init__(name, path)
        self.source = source

    def get_code(self, fullname: str) -> CodeType:
        return compile(self.source, self.path, "exec")


class _Instead(MetaPathFinder):
    """Finds the mutated module before its file is."""

    def __init__(self, path: Path, source: bytes) -> None:
        parts = path.relative_to(ROOT).with_suffix("").parts
        self.package = parts[-1] == "__init__"
        self.name = ".".join(parts[:-1] if self.package else parts)
        self.loader = _MutatedSource(self.name, str(path), source)
        self.used = False

    def find_spec(self, fullname: str, path: object = None, target: object = None) -> Any:
        if fullname != self.name:
            return None
        self.used = True
        return importlib.machinery.ModuleSpec(
            fullname, self.loader, origin=self.loader.path, is_package=self.package
        )


@dataclass
class _Chosen:
    """Keeps the chosen tests, in their order; remembers the first that failed."""

    order: dict[str, int]
    failed: str = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self.order), key=lambda item: self.order[item.nodeid]
        )

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.failed = self.failed or f"{report.nodeid} (does not load)"

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = self.failed or report.nodeid


@dataclass
class _Task:
    limit: Limit
    mutated_to: float
    rounds: list[list[str]]
    """Tests to run, the likeliest to fail first; a round begins only when the one before has passed."""


def _try(task: _Task) -> Outcome:
    limit, started = task.limit, time.perf_counter()
    instead = _Instead(limit.path, limit.mutated(limit.path.read_bytes(), task.mutated_to))
    sys.meta_path.insert(0, instead)
    failed = ""
    signal.alarm(PATIENCE_S)
    for tests in task.rounds:
        chosen = _Chosen({test: k for k, test in enumerate(tests)})
        code = run_tests(sorted({test.partition("::")[0] for test in tests}), chosen)
        failed = chosen.failed
        if not instead.used or (code != 0) != bool(failed):
            raise RuntimeError(f"{limit.name}: the tests did not run as they should, code {code}")
        if failed:
            break
    signal.alarm(0)
    took_s = time.perf_counter() - started
    file = str(limit.path.relative_to(ROOT))
    return Outcome(limit.name, file, limit.line, limit.value, task.mutated_to, failed, took_s)


def _rounds(reached: Sequence[Reached], functions: set[str]) -> list[list[str]]:
    """Tests of thresholds that reach these functions, then all that do, then all others."""
    near = [each.test for each in reached if functions.intersection(each.functions)]
    first = [test for test in near if THRESHOLDS in test]
    known = set(near)
    rounds = [first, [test for test in near if THRESHOLDS not in test]]
    rounds.append([each.test for each in reached if each.test not in known])
    return [tests for tests in rounds if tests]


def mutate(limits: Sequence[Limit], reached: Sequence[Reached], processes: int) -> Iterator[Outcome]:
    """Two mutants of each limit."""
    readers = Readers(PACKAGE)
    tasks = [
        _Task(limit, value, _rounds(reached, readers.of(limit)))
        for limit in limits
        for value in limit.moved()
    ]
    with in_a_process(processes) as pool:
        yield from pool.imap(_try, tasks, chunksize=1)
