"""The program in a process of its own on this machine, as a browser meets it."""

import os
import random
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

START_WAIT_S = 180  # a busy machine takes its time to make three months of records
STOP_WAIT_S = 60
ANSWER_WAIT_S = 60  # of one page, its first time, on a machine three times slower and busy
# Below the ports that a system hands out to whoever connects: one of those, free when it was
# looked at, may be a browser's by the time the program listens on it.
PORTS = range(20_000, 32_000)

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
    """Run `hatchery COMMAND` on a free port of 127.0.0.1; give its address; stop it at the end."""
    with started(*command, folder=folder, pretend_now=pretend_now, environ=environ, cwd=cwd) as one:
        yield one.address


@dataclass(frozen=True)
class Running:
    """The program in its process: where it answers, and where all that it says is written."""

    address: str
    process: subprocess.Popen[bytes]
    log: Path

    def stopped(self) -> int:
        """Send it the stop signal; how it ended."""
        self.process.terminate()
        return self.process.wait(STOP_WAIT_S)


@contextmanager
def started(
    *command: str,
    folder: Path,
    pretend_now: str = "",
    environ: Mapping[str, str] | None = None,
    cwd: Path | None = None,
) -> Iterator[Running]:
    """The same, with its process.

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
        yield Running(address, process, log)
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
        with _direct.open(address, timeout=ANSWER_WAIT_S) as answer:
            return answer.status, answer.headers.get_content_type(), answer.read().decode()
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.headers.get_content_type(), refused.read().decode()


def free_port() -> int:
    """A port of 127.0.0.1 that nothing listens on."""
    for port in random.sample(PORTS, len(PORTS)):
        with socket.socket() as door:
            try:
                door.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise DidNotStart("Every port is taken.")


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
