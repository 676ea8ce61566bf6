"""One page's time against the same bytes from memory, by the same server."""

import http.client
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit

from tests.server import fetched, free_port

ROUNDS = 60
WARMING = 5


def measured(address: str, path: str) -> str:
    """One page's line: its size, its times, and how many times the floor its median is."""
    status, _kind, page = fetched(address + path)
    if status != 200:
        return f"{path:<32} answered {status}"
    with from_memory(page.encode()) as floor_address:
        page_ms, floor_ms = in_turn(address, path, floor_address)
    p50, p95 = statistics.median(page_ms), statistics.quantiles(page_ms, n=20)[-1]
    ratio = p50 / statistics.median(floor_ms)
    return f"{path:<32}{len(page.encode()):>8}{p50:>9.2f}{p95:>9.2f}{ratio:>10.1f}"


def in_turn(address: str, path: str, floor_address: str) -> tuple[list[float], list[float]]:
    """Times in milliseconds of the page and of the floor, asked one after the other."""
    page, floor = (
        http.client.HTTPConnection(urlsplit(a).netloc, timeout=30)
        for a in (address, floor_address)
    )
    page_ms, floor_ms = [], []
    # The demo signs its owner in by a cookie; a page is measured signed in.
    cookie = _asked(page, "/", {})[1]
    for turn in range(WARMING + ROUNDS):
        took, floor_took = _asked(page, path, cookie)[0], _asked(floor, "/", {})[0]
        if turn >= WARMING:
            page_ms.append(took)
            floor_ms.append(floor_took)
    page.close()
    floor.close()
    return page_ms, floor_ms


def _asked(
    connection: http.client.HTTPConnection, path: str, headers: dict[str, str]
) -> tuple[float, dict[str, str]]:
    began = time.perf_counter()
    connection.request("GET", path, headers=headers)
    answer = connection.getresponse()
    answer.read()
    took_ms = (time.perf_counter() - began) * 1000
    cookie = (answer.getheader("Set-Cookie") or "").split(";")[0]
    return took_ms, {"Cookie": cookie} if cookie else {}


@contextmanager
def from_memory(page: bytes) -> Iterator[str]:
    """A server of these bytes alone; gives its address."""
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.same_bytes", str(port)], stdin=subprocess.PIPE
    )
    try:
        assert server.stdin is not None
        server.stdin.write(page)
        server.stdin.close()
        address = f"http://127.0.0.1:{port}"
        for _ in range(200):
            try:
                fetched(address)
            except OSError:
                time.sleep(0.05)
            else:
                break
        yield address
    finally:
        server.terminate()
        server.wait()
