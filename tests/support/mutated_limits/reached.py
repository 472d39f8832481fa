"""Which functions of the core each test enters, and which of them read a limit."""

from __future__ import annotations

import ast
import hashlib
import json
import os
import sys
import time
from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

from tests.support.mutated_limits.found import Limit, function_of
from tests.support.mutated_limits.processes import HELPERS, PACKAGE, ROOT, TESTS, in_a_process, run_tests

KEPT = ROOT / "out" / "tests_that_reach"
"""What each test reaches is kept here as long as the core and its file stay as they are."""
SLOWEST_S = 1.5
"""A test that takes longer holds figures on the whole, not one limit."""


@dataclass
class Reached:
    """One test, how long it takes and the functions of the core it enters."""

    test: str
    took_s: float
    functions: list[str]


@dataclass
class _Watch:
    """Notes which functions of the core every test enters; a test that does not pass is left out."""

    reached: list[Reached] = field(default_factory=list)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        entered: set[CodeType] = set()
        self.passed = False
        started = time.perf_counter()

        def note(frame: FrameType, event: str, _: object) -> None:
            if event == "call":
                entered.add(frame.f_code)
                if time.perf_counter() - started > 2.0 * SLOWEST_S:
                    raise TimeoutError("too long for one limit")

        sys.setprofile(note)
        try:
            return (yield)
        finally:
            sys.setprofile(None)
            took_s = time.perf_counter() - started
            inside = {
                f"{Path(code.co_filename).relative_to(PACKAGE)}:{_plain(code.co_qualname)}"
                for code in entered
                if code.co_filename.startswith(f"{PACKAGE}{os.sep}")
            }
            if self.passed:
                self.reached.append(Reached(item.nodeid, took_s, sorted(inside)))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.when == "call":
            self.passed = report.passed


def _plain(qualified_name: str) -> str:
    """The outermost function of a code object."""
    return qualified_name.partition(".<locals>")[0]


def _reached_by(file: str) -> list[Reached]:
    name = Path(file).relative_to("tests").with_suffix("").as_posix().replace("/", ".")
    kept = KEPT / f"{name}-{_digest(file)}.json"
    if kept.exists():
        return [Reached(**each) for each in json.loads(kept.read_text(encoding="utf-8"))]
    watch = _Watch()
    # Without -x: what fails without Django is no test for this, the others are.
    run_tests(["--maxfail=10000", file], watch)
    KEPT.mkdir(parents=True, exist_ok=True)
    for old in KEPT.glob(f"{name}-*.json"):
        old.unlink()
    kept.write_text(json.dumps([vars(each) for each in watch.reached]), encoding="utf-8")
    return watch.reached


def _digest(file: str) -> str:
    sources = [*sorted(PACKAGE.rglob("*.py")), *sorted(HELPERS.glob("*.py")), ROOT / file]
    return hashlib.sha256(b"\0".join(path.read_bytes() for path in sources)).hexdigest()[:16]


def tests_that_reach(processes: int) -> list[Reached]:
    """Every test of the folder that passes without Django, the quickest first."""
    files = sorted(str(path.relative_to(ROOT)) for path in TESTS.rglob("test_*.py"))
    with in_a_process(processes) as pool:
        found = [each for some in pool.imap_unordered(_reached_by, files, chunksize=1) for each in some]
    quick = sorted((each for each in found if each.took_s <= SLOWEST_S), key=lambda each: each.took_s)
    if not quick:
        raise RuntimeError(f"no test of {TESTS} passes by itself, so nothing can be said of any limit")
    return quick


class Readers:
    """Functions of the core that mention a name, or a name made from it."""

    def __init__(self, package: Path) -> None:
        self.package = package
        self.functions: dict[str, set[str]] = {}
        self.made: dict[str, set[str]] = {}
        for path in sorted(package.rglob("*.py")):
            self._note(str(path.relative_to(package)), ast.parse(path.read_bytes()), [], [])

    def of(self, limit: Limit) -> set[str]:
        """As `Reached.functions` spells them; empty when nobody is known to read it."""
        if not limit.known_as:
            return {f"{limit.path.relative_to(self.package)}:{limit.function}"} if limit.function else set()
        found: set[str] = set()
        waiting, seen = [limit.known_as], {limit.known_as}
        while waiting:
            name = waiting.pop()
            found |= self.functions.get(name, set())
            waiting += self.made.get(name, set()) - seen
            seen |= self.made.get(name, set())
        return found

    def _note(self, file: str, node: ast.AST, scopes: list[Any], targets: Sequence[str]) -> None:
        name = node.id if isinstance(node, ast.Name) else getattr(node, "attr", None)
        if isinstance(name, str):
            function = function_of(scopes)
            if function:
                self.functions.setdefault(name, set()).add(f"{file}:{function}")
            else:
                self.made.setdefault(name, set()).update(targets)
        if isinstance(node, ast.Assign | ast.AnnAssign):
            assigned = node.targets if isinstance(node, ast.Assign) else [node.target]
            targets = [each.id for each in assigned if isinstance(each, ast.Name)]
        if isinstance(node, ast.ClassDef | ast.FunctionDef):
            scopes = [*scopes, node]
        for child in ast.iter_child_nodes(node):
            self._note(file, child, scopes, targets)
