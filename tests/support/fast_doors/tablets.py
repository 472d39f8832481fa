"""
Tablets that send entries over HTTP, one after the other, each on a connection of its own.

A process of its own without Django, so that what it costs can be told from what the server costs: it reads its
work as JSON from its input, and writes what each entry was answered, and when, to its output.
"""

from __future__ import annotations

import json
import resource
import socket
import sys
import threading
import time
from typing import Any

PATIENCE_S = 60


def _answer(connection: socket.socket) -> tuple[int, bytes]:
    """Status and body of one HTTP response of known length."""
    got = b""
    while (ends := got.find(b"\r\n\r\n")) < 0:
        got += _more(connection)
    head = got[:ends].decode("latin-1").split("\r\n")
    lengths = [line.split(":")[1] for line in head[1:] if line.lower().startswith("content-length:")]
    body, length = got[ends + 4 :], int(lengths[0])
    while len(body) < length:
        body += _more(connection)
    return int(head[0].split()[1]), body


def _more(connection: socket.socket) -> bytes:
    part = connection.recv(65536)
    if not part:
        raise ConnectionError("the server closed the connection of a tablet")
    return part


def request_bytes(path: str, port: int, headers: dict[str, str], body: str) -> bytes:
    """One POST of JSON as it goes over the wire."""
    sent = body.encode()
    lines = {
        "Host": f"127.0.0.1:{port}",
        "Content-Type": "application/json",
        "Content-Length": str(len(sent)),
        **headers,
    }
    head = "".join(f"{name}: {value}\r\n" for name, value in lines.items())
    return f"POST {path} HTTP/1.1\r\n{head}\r\n".encode() + sent


def _one_tablet(
    work: dict[str, Any], tablet: dict[str, Any], told: list[Any], failed: list[BaseException]
) -> None:
    try:
        with socket.create_connection(("127.0.0.1", work["port"]), timeout=PATIENCE_S) as connection:
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            time.sleep(max(0.0, work["begin"] - time.time()))
            for name, body in tablet["entries"]:
                began = time.time()
                if began >= work["end"]:
                    return
                connection.sendall(request_bytes(work["path"], work["port"], tablet["headers"], body))
                status, answered = _answer(connection)
                told.append([name, status, began, time.time(), "" if status == 201 else answered.decode()])
    except BaseException as error:
        failed.append(error)
        raise


def main() -> None:
    work = json.load(sys.stdin)
    told: list[Any] = []
    failed: list[BaseException] = []
    threads = [
        threading.Thread(target=_one_tablet, args=(work, tablet, told, failed)) for tablet in work["tablets"]
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    used = resource.getrusage(resource.RUSAGE_SELF)
    json.dump(
        {"told": told, "cpu_s": used.ru_utime + used.ru_stime, "failed": [repr(e) for e in failed]},
        sys.stdout,
    )


if __name__ == "__main__":
    main()
