"""
How many readings a second the door takes with all its checks, beside one bare INSERT a request on the same server.

    python -m tests.support.fast_doors --tablets 40 --seconds 10

Starts a database of its own in a folder of its own, the server as `docker-compose.yml` starts it, and the tablets in
processes of their own, all on this machine. Afterwards every entry that was sent must be stored exactly once.
"""

from __future__ import annotations

import argparse
import atexit
import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from statistics import median, quantiles
from typing import Any
from uuid import uuid4

PROCESSES = 2
"""Processes that the tablets share."""
CONNECTIONS_FOR_EACH = 20
"""Connections answered before the measurement, so many that each process of the server has got some and is ready."""
SETTLES_S = 1.0
"""Between the start of the tablets' processes and their first entry."""


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--tablets", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument(
        "--tablets-a-batch", type=int, default=2, help="who share a batch wait for each other"
    )
    parser.add_argument("--workers", type=int, default=2, help="processes of the server")
    parser.add_argument("--threads", type=int, default=4, help="threads of each")
    parser.add_argument("--home", type=Path, help="a folder for the database, kept for the next time")
    given = parser.parse_args()
    home = given.home or Path(tempfile.mkdtemp(prefix="siltbook-fast-", dir="/var/tmp"))
    home.mkdir(exist_ok=True)
    home.chmod(0o755)
    os.environ.pop("DATABASE_URL", None)
    os.environ |= {
        "SILTBOOK_HOME": str(home),
        "DJANGO_SETTINGS_MODULE": "tests.support.fast_doors.server_settings",
        "CELERY_BROKER_URL": "memory://",
    }
    if given.home is None:
        atexit.register(_gone, home)  # before the server's own, so it comes after it
    _measure(home, given)


def _measure(home: Path, given: Any) -> None:
    from labsite.embedded.server import hold_if_default

    hold_if_default()
    import django

    django.setup()
    from django.core.management import call_command

    from labsite.demonstration.processes import free_port
    from tests.support.fast_doors import laboratory
    from tests.support.saved_by import queries_of_one_save

    call_command("migrate", verbosity=0)
    tablets = laboratory.build(given.tablets, given.tablets_a_batch)
    for tablet in tablets[:2]:  # the first save of a process reads the method and the hydrometer once
        queries = queries_of_one_save(tablet.headers, tablet.entries.pop())
    load = os.getloadavg()[0]
    port = free_port(8100)
    with _server(home, port, given) as server:
        sent = [(t.headers, t.entries) for t in tablets]
        bare = [(t.headers, [(str(uuid4()), body) for _, body in t.entries * 4]) for t in tablets]
        print(
            f"{given.tablets} tablets, {given.tablets_a_batch} to a batch, {given.seconds:g} s; "
            f"server: {given.workers} processes with {given.threads} threads; {os.cpu_count()} cores for server, "
            f"database and tablets; load before: {load:.2f}"
        )
        served = server.pid, _postmaster(home)
        _run("one bare INSERT", "/bare/", bare, port, given, served=served, queries=1)
        told = _run("one reading", "/bench/entries/", sent, port, given, served=served, queries=queries)
    _require_stored_once(told)


def _run(
    what: str,
    path: str,
    tablets: list[tuple[dict[str, str], list[tuple[str, str]]]],
    port: int,
    given: Any,
    *,
    served: tuple[int, int],
    queries: int,
) -> list[Any]:
    """Let the tablets send for so many seconds, print what came of it, and return what each entry was told."""
    begin = time.time() + SETTLES_S
    works = [
        {
            "port": port,
            "path": path,
            "begin": begin,
            "end": begin + given.seconds,
            "tablets": [{"headers": h, "entries": e} for h, e in tablets[part::PROCESSES]],
        }
        for part in range(PROCESSES)
    ]
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.support.fast_doors.tablets"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in works
    ]
    for process, work in zip(running, works, strict=True):
        assert process.stdin is not None
        process.stdin.write(json.dumps(work))
        process.stdin.close()
    time.sleep(max(0.0, begin - time.time()))
    before = _used_s(*served)
    answers = [json.load(process.stdout) for process in running if process.stdout is not None]
    used = {who: seconds - before[who] for who, seconds in _used_s(*served).items()}
    for process in running:
        process.wait()
    failed = [each for answer in answers for each in answer["failed"]]
    if failed:
        raise SystemExit(f"{what}: {failed}")
    told = [each for answer in answers for each in answer["told"]]
    not_stored = [each for each in told if each[1] != 201]
    if not_stored:
        raise SystemExit(
            f"{what}: {len(not_stored)} of {len(told)} were not stored, the first: {not_stored[0]}"
        )
    _print(what, told, used | {"tablets": sum(answer["cpu_s"] for answer in answers)}, queries)
    return told


def _print(what: str, told: list[Any], used_s: dict[str, float], queries: int) -> None:
    took_ms = sorted(1000 * (ends - begins) for _, _, begins, ends, _ in told)
    within_s = max(each[3] for each in told) - min(each[2] for each in told)
    hundredths = quantiles(took_ms, n=100)
    print(
        f"{what:16} {len(told) / within_s:6.0f} a second   median {median(took_ms):4.0f} ms   "
        f"p99 {hundredths[98]:4.0f} ms   longest {took_ms[-1]:4.0f} ms   {queries:2} queries   "
        f"{len(told)} stored in {within_s:.1f} s"
    )
    each_ms = {who: 1000 * seconds / len(told) for who, seconds in used_s.items() if who != "machine"}
    words = ", ".join(f"{who} {ms:.1f} ms" for who, ms in each_ms.items())
    others = (used_s["machine"] - used_s["server"] - used_s["database"] - used_s["tablets"]) / within_s
    print(
        f"{'':16} of a core for each: {words}; together {sum(each_ms.values()):.1f} ms, so two cores alone would do "
        f"{2000 / sum(each_ms.values()):.0f} a second; meanwhile others used {others:.1f} cores"
    )


TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")


def _used_s(server: int, database: int) -> dict[str, float]:
    """Seconds of a core used since they were started: by the server, by the database, and by the whole machine."""
    used = {"server": 0.0, "database": 0.0, "machine": 0.0}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = stat.read_text().rpartition(")")[2].split()
        except (FileNotFoundError, ProcessLookupError):  # ended meanwhile
            continue
        parent, group, ticks = int(words[1]), int(words[2]), int(words[11]) + int(words[12])
        if group == server:
            used["server"] += ticks / TICKS_A_SECOND
        elif parent == database:
            used["database"] += ticks / TICKS_A_SECOND
    numbers = [int(n) for n in Path("/proc/stat").read_text().splitlines()[0].split()[1:]]
    user, nice, system, _idle, _waits, irq, softirq = numbers[:7]
    used["machine"] = (user + nice + system + irq + softirq) / TICKS_A_SECOND
    return used


@contextlib.contextmanager
def _server(home: Path, port: int, given: Any) -> Iterator[subprocess.Popen[bytes]]:
    """The server as `docker-compose.yml` starts it, in a group of processes of its own."""
    log = home / "web.log"
    words = [
        *("granian", "--interface", "wsgi", "--host", "127.0.0.1", "--port", str(port), "--no-ws"),
        *("--workers", str(given.workers), "--blocking-threads", str(given.threads)),
        "labsite.wsgi:application",
    ]
    with log.open("wb") as output:
        server = subprocess.Popen(
            [sys.executable, "-m", *words],
            stdout=output,
            stderr=subprocess.STDOUT,
            env={"SILTBOOK_POOL": "1", **os.environ},
            start_new_session=True,
        )
    try:
        for _ in range(CONNECTIONS_FOR_EACH * given.workers):
            _until_it_answers(port, log)
        yield server
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait()


def _until_it_answers(port: int, log: Path) -> None:
    end = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=5):
                return
        except OSError:
            if time.monotonic() > end:
                raise SystemExit(f"The server did not start:\n{log.read_text()}") from None
            time.sleep(0.1)


def _postmaster(home: Path) -> int:
    """The first process of the database, of which all others are children."""
    from labsite.embedded.cluster import Cluster

    return int((Cluster(home).data / "postmaster.pid").read_text().split()[0])


def _require_stored_once(told: list[Any]) -> None:
    """Every entry that was sent is kept once, judged as stored, and is one reading; and the history holds."""
    from collections import Counter

    from batches.models import Entry, Reading
    from labsite.audit.chain import verify_chain

    sent = Counter(each[0] for each in told)
    entries = Entry.objects.filter(kind="reading", verdict__outcome="stored")
    kept = Counter(str(name) for name in entries.values_list("entry_id", flat=True))
    read = Counter(str(name) for name in Reading.objects.values_list("entry__entry_id", flat=True))
    wrong = [name for name in sent if (sent[name], kept[name], read[name]) != (1, 1, 1)]
    links, breaks = verify_chain()
    if wrong or breaks:
        raise SystemExit(f"Not stored exactly once: {len(wrong)} of {len(sent)}; the history: {breaks[:3]}")
    print(f"{len(sent)} entries sent, each stored exactly once; {links} links of the history hold")


def _gone(home: Path) -> None:
    """Stop the database and delete what it kept."""
    from labsite.embedded.cluster import Cluster
    from labsite.embedded.server import stop

    stop(Cluster(home))
    shutil.rmtree(home)


if __name__ == "__main__":
    main()
