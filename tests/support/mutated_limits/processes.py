"""Processes in which tests run without Django, each used once."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[3]
PACKAGE = ROOT / "particles" / "distribution"
TESTS = ROOT / "tests" / "distribution"
HELPERS = ROOT / "tests" / "support"


def in_a_process(pool_size: int) -> Any:
    """Processes that start as this one is now, used once each, and print nothing."""
    return multiprocessing.get_context("fork").Pool(pool_size, initializer=_quiet, maxtasksperchild=1)


def _quiet() -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    signal.signal(signal.SIGALRM, _too_long)


def _too_long(_signal: int, _frame: FrameType | None) -> None:
    raise TimeoutError("a mutant kept a test busy")


def run_tests(files: Iterable[str], *plugins: object) -> int:
    """Runs test files without Django; each failing example of a property is taken as it comes."""
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutants", database=None, derandomize=True, phases=[Phase.explicit, Phase.generate]
    )
    settings.load_profile("mutants")
    options = [
        "-c",
        os.devnull,
        f"--rootdir={ROOT}",
        "--import-mode=importlib",
        "--noconftest",
        "-x",
        "-q",
        "--assert=plain",
    ]
    options += ["-W", "error", "-p", "no:django", "-p", "no:xdist", "-p", "no:cacheprovider"]
    return int(pytest.main([*options, *files], plugins=plugins))
