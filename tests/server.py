"""The program in a process of its own on this machine, as a browser meets it."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

START_WAIT_S = 180  # a busy machine takes its time to make three months of records
STOP_WAIT_S = 10

# Straight to this machine, whatever proxy the environment names.
_direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))


class DidNotStart(Exception):
    """The program ended, or stayed silent, before it answered; what it said is the message."""


@contextmanager
def served(
    *command: str,
    folder: Path,
    pretend_now: str = "",
    environ: Mapping[str, str] | None = None,
    cwd: Path | None = None,
) -> Iterator[str]:
    """Run `hatchery COMMAND` on a free port of 127.0.0.1; give its address; stop it at the end.

    The environment's own HATCHERY_* are left out, so that only what the test says holds.
    """
    address = f"http://127.0.0.1:{(port := free_port())}"
    clean = {k: v for k, v in os.environ.items() if not k.startswith("HATCHERY_")}
    if pretend_now:
        clean["HATCHERY_PRETEND_NOW"] = pretend_now
    words = [*command, "--folder", str(folder), "--host", "127.0.0.1", "--port", str(port)]
    log = folder.parent / f"{folder.name}-{port}.log"
    with log.open("wb") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", "hatchery_app", *words],
            env=clean | dict(environ or {}), cwd=cwd, stdout=said, stderr=subprocess.STDOUT,
        )  # fmt: skip
    try:
        _wait_for(address, process, log)
        yield address
    finally:
        process.terminate()
        try:
            process.wait(STOP_WAIT_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def fetched(address: str) -> tuple[int, str, str]:
    """Status, content type and text of what stands at an address, redirects followed."""
    try:
        with _direct.open(address, timeout=10) as answer:
            return answer.status, answer.headers.get_content_type(), answer.read().decode()
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.headers.get_content_type(), refused.read().decode()


def free_port() -> int:
    """A port of 127.0.0.1 that nothing listens on."""
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


def _wait_for(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + START_WAIT_S
    while time.monotonic() < until:
        if process.poll() is not None:
            break
        try:
            fetched(address)
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise DidNotStart(log.read_text("utf-8", "replace"))
