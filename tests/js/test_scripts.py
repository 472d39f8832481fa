"""The browser's own decisions, run outside of one: every `*.test.mjs` of this folder, by the tests of Node."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
TESTED = ("checks", "clock", "expected", "overlay", "pad", "queue", "room", "schedule")


def node() -> str | None:
    """Where Node is: the one that the browser driver's wheel carries, or else this computer's own."""
    driver = find_spec("playwright")
    if driver is not None and driver.origin is not None:
        carried = Path(driver.origin).parent / "driver" / "node"
        if carried.exists():
            return str(carried)
    return shutil.which("node")


def test_each_script_that_decides_has_tests() -> None:
    assert {path.name for path in HERE.glob("*.test.mjs")} == {f"{name}.test.mjs" for name in TESTED}


@pytest.mark.parametrize("script", TESTED)
def test_the_script_decides_as_its_tests_say(script: str, require: Callable[[str, bool], None]) -> None:
    found = node()
    require("node", found is not None)
    assert found is not None
    run = subprocess.run(
        [found, "--test", "--test-reporter=spec", str(HERE / f"{script}.test.mjs")],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
