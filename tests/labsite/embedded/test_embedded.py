"""The program's own PostgreSQL: started once, reused after a crash, gone with its last holder."""

from __future__ import annotations

import os
import shutil
import signal
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg
import pytest

from labsite.embedded.cluster import Cluster, EmbeddedDatabaseError
from labsite.embedded.server import start, stop

HOLD = (
    "import sys; from pathlib import Path; from labsite.embedded.cluster import Cluster;"
    "from labsite.embedded.server import hold;"
    "hold(Cluster(Path(sys.argv[1])));"
)


@pytest.fixture
def cluster(tmp_path: Path):  # type: ignore[no-untyped-def]
    made = Cluster(tmp_path / "home")
    yield made
    if made.folder.exists():
        stop(made)
        shutil.rmtree(made.folder)


def server_pid(cluster: Cluster) -> int | None:
    path = cluster.data / "postmaster.pid"
    return int(path.read_text().split()[0]) if path.exists() else None


def holder(cluster: Cluster, then: str = "") -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", HOLD + then, str(cluster.home)], stdin=subprocess.PIPE)


def test_four_starters_at_once_get_one_server(cluster: Cluster) -> None:
    with ThreadPoolExecutor(4) as pool:
        holders = list(pool.map(lambda _: holder(cluster, "sys.stdin.read()"), range(4)))
        waited = [pool.submit(h.wait, 60) for h in holders]
        for h in holders:
            assert h.stdin is not None
            h.stdin.close()
        assert [w.result() for w in waited] == [0, 0, 0, 0]
    assert server_pid(cluster) is None, "the last holder stops the server"


def test_committed_rows_survive_a_killed_server_and_starter(cluster: Cluster) -> None:
    start(cluster)
    with psycopg.connect(**cluster.conninfo(), autocommit=True) as connection:
        connection.execute("create table kept (n int)")
        connection.execute("insert into kept select generate_series(1, 1000)")
    pid = server_pid(cluster)
    assert pid is not None
    os.kill(pid, signal.SIGKILL)
    start(cluster)
    with psycopg.connect(**cluster.conninfo()) as connection:
        assert connection.execute("select count(*) from kept").fetchone() == (1000,)


def test_a_running_server_is_joined_and_not_started_again(cluster: Cluster) -> None:
    start(cluster)
    pid = server_pid(cluster)
    start(cluster)
    assert server_pid(cluster) == pid


def test_only_its_own_folder_is_closed_and_no_other_is_widened(cluster: Cluster) -> None:
    cluster.home.mkdir(mode=0o700)
    before = {p: p.stat().st_mode for p in (cluster.home, *cluster.home.parents)}
    start(cluster)
    assert {p: p.stat().st_mode for p in before} == before
    assert stat.S_IMODE(cluster.folder.stat().st_mode) == 0o700


def test_a_long_path_gets_a_short_folder_for_its_socket(tmp_path: Path) -> None:
    deep = Cluster(tmp_path.joinpath(*["a-rather-long-folder-name"] * 6))
    assert len(str(deep.socket_folder)) < 90


def test_data_of_another_version_are_refused_and_left_alone(cluster: Cluster) -> None:
    start(cluster)
    stop(cluster)
    version = cluster.data / "PG_VERSION"
    version.write_text("12\n")
    with pytest.raises(EmbeddedDatabaseError, match=r"written by PostgreSQL 12.*nothing was changed"):
        start(cluster)


def test_a_new_home_at_an_old_path_gets_new_data(cluster: Cluster) -> None:
    before = cluster.folder
    assert cluster.folder == before
    if os.geteuid() == 0:
        shutil.rmtree(cluster.home)
        assert Cluster(cluster.home).folder != before
