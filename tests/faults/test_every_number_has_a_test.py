"""Every bench fault that review or the core must catch has a test that names its number."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
MUST_BE_CAUGHT = (*range(43, 75), *range(79, 104))
_NAMED = re.compile(r"[Bb]ench faults? (\d+(?:(?:, | and | to )\d+)*)|def test_[a-z0-9_]*?faults?_(\d+)")


def named_faults() -> set[int]:
    """Numbers that the name or the docstring of a test says."""
    found: set[int] = set()
    for path in TESTS.rglob("test_*.py"):
        if path == Path(__file__):
            continue
        for words, name in _NAMED.findall(path.read_text(encoding="utf-8")):
            numbers = [int(number) for number in re.findall(r"\d+", words or name)]
            found |= set(range(numbers[0], numbers[-1] + 1)) if " to " in words else set(numbers)
    return found


@pytest.mark.parametrize("number", MUST_BE_CAUGHT)
def test_the_fault_is_named(number: int) -> None:
    assert number in named_faults(), (
        f"no test says in its name or docstring that it is about bench fault {number}"
    )
