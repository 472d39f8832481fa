"""Real workers on the test database."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings as django_settings
from django.db import connection
from kombu import pools
from psycopg.conninfo import make_conninfo

PATIENCE_S = 60
WORKER = "worker under test"
QUIET = ("--without-gossip", "--without-mingle", "--without-heartbeat")


def wait_until(true: Callable[[], bool], what: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while not true():
        if time.monotonic() > end:
            pytest.fail(f"waited {PATIENCE_S} s in vain: {what}")
        time.sleep(0.1)


def forget_connections(app: Any) -> None:
    """Let the next message open a connection of its own, as in a new process."""
    app.pool.force_close_all()
    pools.reset()
    app._after_fork()


def worker_sessions() -> int:
    """Connections that workers still hold on the test database, which is dropped soon."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND application_name = %s",
            [WORKER],
        )
        return int(cursor.fetchone()[0])


@pytest.fixture
def broker(transactional_db: None) -> Iterator[dict[str, str]]:
    """Point this process's messages at a real broker; gives the environment its workers need."""
    from labsite.celery import app

    at = connection.settings_dict
    user = quote(at["USER"]) + (f":{quote(at['PASSWORD'])}" if at["PASSWORD"] else "")
    url = f"postgresql://{user}@/{at['NAME']}?host={quote(at['HOST'], safe='')}&port={at['PORT'] or 5432}"
    environment = {"DATABASE_URL": url}
    before = {name: app.conf[name] for name in ("broker_url", "broker_transport_options")}
    app.conf.broker_url = django_settings.CELERY_BROKER_URL
    if django_settings.PGMQ_IN_DATABASE:
        keywords = {"host": at["HOST"], "port": at["PORT"], "dbname": at["NAME"], "user": at["USER"]}
        keywords |= {"password": at["PASSWORD"]} if at["PASSWORD"] else {}
        app.conf.broker_transport_options = {
            **before["broker_transport_options"],
            "conn_string": make_conninfo("", **{k: v for k, v in keywords.items() if v}),
            "init_extension": False,
        }
    forget_connections(app)
    yield environment
    app.conf.update(before)
    forget_connections(app)


@pytest.fixture
def start_worker(broker: dict[str, str], tmp_path: Path) -> Iterator[Callable[..., Any]]:
    """Start a Celery worker; it is gone when the test ends."""
    running: list[subprocess.Popen[bytes]] = []

    def start(*words: str) -> subprocess.Popen[bytes]:
        with (tmp_path / f"worker{len(running)}.log").open("wb") as log:
            child = subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "celery",
                    "-A",
                    "labsite",
                    "worker",
                    "-c",
                    "1",
                    "-l",
                    "INFO",
                    *words,
                    *QUIET,
                ],
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                env={**os.environ, **broker, "SILTBOOK_HOME": str(tmp_path), "PGAPPNAME": WORKER},
            )
        running.append(child)
        return child

    yield start
    for child in running:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child.pid, signal.SIGKILL)
        child.wait()
    wait_until(lambda: worker_sessions() == 0, "the sessions of killed workers to end")
