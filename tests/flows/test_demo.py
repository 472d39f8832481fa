"""`manage.py demo` as a newcomer runs it, in a folder of its own."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from labsite.embedded.cluster import Cluster
from labsite.embedded.server import stop

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.worker


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    made = tmp_path_factory.mktemp("demo") / "home"
    yield made
    cluster = Cluster(made)
    if cluster.folder.exists():
        stop(cluster)


def environment(home: Path) -> dict[str, str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "CELERY_BROKER_URL")}
    return {**kept, "SILTBOOK_HOME": str(home), "PYTHONUNBUFFERED": "1"}


def demo(home: Path, out: Path) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", "demo", "--no-serve", "--out", str(out)],
        cwd=ROOT,
        env=environment(home),
        capture_output=True,
        text=True,
        timeout=240,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def server_runs(home: Path) -> bool:
    return (Cluster(home).data / "postmaster.pid").exists()


def test_it_ends_with_a_certificate_and_leaves_nothing_running(home: Path, tmp_path: Path) -> None:
    first = demo(home, tmp_path / "first")
    rows = [line for line in first.splitlines() if re.match(r"\d\d-\d{5} .* to ", line)]
    assert len(rows) == 6, first
    assert re.search(r"Quay fill +not reported .*reading above the scale", first)
    assert not server_runs(home)
    files = sorted((tmp_path / "first").iterdir())
    assert [f.suffix for f in files] == [".csv", ".json", ".pdf"]
    assert files[2].read_bytes().startswith(b"%PDF-")
    assert json.loads(files[1].read_text(encoding="utf-8"))["number"] == files[2].stem

    again = demo(home, tmp_path / "again")
    assert "was run before" in again
    for file in files:
        assert (tmp_path / "again" / file.name).read_bytes() == file.read_bytes()


def test_it_serves_until_it_is_interrupted(home: Path, tmp_path: Path) -> None:
    running = subprocess.Popen(
        [sys.executable, "manage.py", "demo", "--out", str(tmp_path), "--port", "8480"],
        cwd=ROOT,
        env=environment(home),
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        printed = ""
        assert running.stdout is not None
        while "equipment custodian" not in printed:
            line = running.stdout.readline()
            assert line, printed
            printed += line
        found = re.search(r"http://127\.0\.0\.1:\d+", printed)
        assert found is not None
        with urllib.request.urlopen(found.group() + "/account/login/") as answer:
            assert "Brackwater" in answer.read().decode()
        children = psutil.Process(running.pid).children(recursive=True)
        assert len(children) >= 2
    finally:
        running.send_signal(signal.SIGINT)
        running.wait(60)
        if running.stdout is not None:
            running.stdout.close()
    assert running.returncode == 0
    assert not [c for c in children if c.is_running() and c.status() != psutil.STATUS_ZOMBIE]
    assert not server_runs(home)
