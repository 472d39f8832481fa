"""The place of one embedded server and the names it goes by; for a try-out, the demonstration and tests only."""

from __future__ import annotations

import contextlib
import hashlib
import os
import pwd
import secrets
import stat
import tempfile
from dataclasses import dataclass
from pathlib import Path

DATABASE_NAME = "siltbook"
SUPERUSER = "siltbook"
PORT = "5432"
LONGEST_SOCKET_FOLDER = 90
"""A UNIX socket address holds 107 characters; '/.s.PGSQL.5432.lock' must still fit behind the folder."""


class EmbeddedDatabaseError(RuntimeError):
    """The program's own PostgreSQL cannot be started; the text says what to do."""


def others_may_enter(path: Path) -> bool:
    """Whether every existing folder from the root down to `path` lets any user pass."""
    existing = [p for p in (path, *path.parents) if p.exists()]
    return all(p.stat().st_mode & stat.S_IXOTH for p in existing)


def short_name(path: Path) -> str:
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
    """The place of one embedded server, worked out from the program's folder alone."""

    home: Path
    """The program's own folder, e.g. `.siltbook`."""

    @property
    def as_root(self) -> bool:
        return os.geteuid() == 0

    @property
    def folder(self) -> Path:
        if self.as_root and not others_may_enter(self.home):
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
        return Path(tempfile.gettempdir()) / f"siltbook-{short_name(self.folder)}"

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
