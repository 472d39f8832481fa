"""
Starts, joins and stops an embedded server.

It is for a try-out, the demonstration and the tests; a server in production has a DATABASE_URL.
"""

from __future__ import annotations

import atexit
import contextlib
import fcntl
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from labsite.embedded.binaries import call, check_version, folder_of_programs, initialise, log_tail
from labsite.embedded.cluster import DATABASE_NAME, PORT, Cluster, EmbeddedDatabaseError

PATIENCE_S = 60
LEAVING_PATIENCE_S = 1.0


def _own(cluster: Cluster, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    if folder.is_symlink():
        raise EmbeddedDatabaseError(f"{folder} is a link to another place. Remove it, and look who made it.")
    folder.chmod(0o700)
    if cluster.as_root:
        os.chown(folder, cluster.account["user"], cluster.account["group"])


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[None]:
    with path.open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def _forget_dead_server(cluster: Cluster) -> None:
    """
    Remove the notes of a killed server that nobody has buried.

    Where process 1 does not collect dead children, the killed server stays listed and
    PostgreSQL takes it for a running one. A dead process holds no data.
    """
    note = cluster.data / "postmaster.pid"
    if not note.exists():
        return
    process = Path("/proc") / note.read_text().split()[0] / "stat"
    with contextlib.suppress(FileNotFoundError):
        if process.read_text().rpartition(")")[2].split()[0] == "Z":
            note.unlink()
            (cluster.socket_folder / f".s.PGSQL.{PORT}.lock").unlink(missing_ok=True)


def _maintenance(cluster: Cluster) -> str:
    """Connection string of the database that is always there."""
    return " ".join(f"{key}='{value}'" for key, value in {**cluster.conninfo(), "dbname": "postgres"}.items())


def _answers(cluster: Cluster) -> bool:
    import psycopg

    try:
        with psycopg.connect(_maintenance(cluster), connect_timeout=5):
            return True
    except psycopg.OperationalError:
        return False


def _until_it_answers(cluster: Cluster, binaries: Path) -> None:
    """Start the server unless it runs. A killed one may take a moment to let go of its files and memory."""
    options = f"-c listen_addresses= -c unix_socket_directories='{cluster.socket_folder}' -p {PORT}"
    end = time.monotonic() + PATIENCE_S
    while not _answers(cluster):
        if time.monotonic() > end:
            raise EmbeddedDatabaseError(
                f"PostgreSQL in {cluster.folder} did not answer within {PATIENCE_S} s.\n{log_tail(cluster)}"
            )
        _forget_dead_server(cluster)
        if call(cluster, binaries, "pg_ctl", "status", "-D", str(cluster.data), check=False):
            call(
                cluster, binaries, "pg_ctl", "start", "-w", "-t", f"{PATIENCE_S}", "-D", str(cluster.data),
                "-l", str(cluster.folder / "log"), "-o", options, check=False,
            )  # fmt: skip
        else:
            time.sleep(0.1)


def start(cluster: Cluster) -> None:
    """Start the server, or find it running; make the database if it is missing."""
    import psycopg

    cluster.home.mkdir(parents=True, exist_ok=True)
    with _locked(cluster.home / "starting.lock"):
        binaries = folder_of_programs(cluster)
        _own(cluster, cluster.folder)
        if cluster.socket_folder != cluster.folder:
            _own(cluster, cluster.socket_folder)
        if not (cluster.data / "PG_VERSION").exists():
            initialise(cluster, binaries)
        check_version(cluster, binaries)
        _until_it_answers(cluster, binaries)
        with psycopg.connect(_maintenance(cluster), autocommit=True) as connection:
            known = connection.execute(
                "select 1 from pg_database where datname = %s", [DATABASE_NAME]
            ).fetchone()
            if known is None:
                connection.execute(f"create database {DATABASE_NAME}")


def stop(cluster: Cluster) -> None:
    """Stop the server; open connections are ended, committed rows stay."""
    with _locked(cluster.home / "starting.lock"):
        call(
            cluster,
            folder_of_programs(cluster),
            "pg_ctl",
            "stop",
            "-m",
            "fast",
            "-w",
            "-D",
            str(cluster.data),
            check=False,
        )


def hold(cluster: Cluster) -> None:
    """
    Start or join the server until this process ends.

    Every holder keeps a shared lock; the one that leaves last, and so gets the lock
    alone, stops the server. A server whose holders were all killed keeps running and
    is joined by the next one.
    """
    cluster.home.mkdir(parents=True, exist_ok=True)
    handle = (cluster.home / "holders.lock").open("w")
    fcntl.flock(handle, fcntl.LOCK_SH)
    start(cluster)
    holder = os.getpid()

    def leave() -> None:
        if os.getpid() != holder:  # a forked child inherits the exit hook, not the duty
            return
        if _alone(handle):
            stop(cluster)

    atexit.register(leave)


def _alone(handle: IO[str]) -> bool:
    """Whether nobody else holds the server; processes just killed get a moment to vanish."""
    end = time.monotonic() + LEAVING_PATIENCE_S
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > end:
                return False
            time.sleep(0.05)
        else:
            return True


def hold_if_default() -> None:
    """Hold the embedded server when the environment names no database of its own."""
    if os.environ.get("DATABASE_URL"):
        return
    from django.conf import settings

    hold(Cluster(Path(settings.SILTBOOK_HOME)))
