"""Child processes of the demonstration: started together, and gone when it ends."""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

PATIENCE_S = 2.0
"""A worker takes some 6 s to say goodbye; a killed one loses nothing, so it is not waited for."""
_PR_SET_PDEATHSIG = 1


def _die_with_parent() -> None:
    """In the child: be told when the parent is killed, so that nothing is left behind (Linux)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


class Children:
    """Processes that end with the `with` block, however it ends."""

    def __init__(self, folder: Path, environment: Mapping[str, str]) -> None:
        self.folder = folder
        self.environment = {**os.environ, **environment}
        self._running: dict[str, subprocess.Popen[bytes]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for child in self._running.values():
            child.terminate()
        for child in self._running.values():
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(PATIENCE_S)
            with contextlib.suppress(ProcessLookupError):  # whatever a child started and left behind
                os.killpg(child.pid, signal.SIGKILL)
            child.wait()

    def start(self, name: str, *words: str) -> Path:
        """Start one process; its output goes to a log file, whose path is returned."""
        log = self.folder / f"{name}.log"
        with log.open("wb") as output:
            self._running[name] = subprocess.Popen(
                [sys.executable, "-m", *words],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                env=self.environment,
                start_new_session=True,
                preexec_fn=_die_with_parent,
            )
        return log

    def ended(self, name: str) -> int | None:
        """Exit status of a process that should be running; None while it is."""
        return self._running[name].poll()


def free_port(wanted: int) -> int:
    """The wanted port of 127.0.0.1, or the next one nobody listens on."""
    for port in range(wanted, wanted + 50):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise OSError(f"No free port from {wanted} to {wanted + 49} on 127.0.0.1. Name another with --port.")
